// The page arrives with its answer in it. The scripts run once that is on the screen, and the living page takes its place when it
// has drawn the same.
(function () {
  var served = document.querySelector(".served"), living = document.getElementById("react-entry-point");

  function told(where) {
    return Array.from(where.querySelectorAll(".page .says")).filter(function (one) { return one.textContent.trim(); }).length;
  }
  function answered() {
    // what was sent has the first section open; a section named in the address stands there instead, once it has content
    var name = decodeURIComponent(window.location.hash.slice(1)), named = name && living.querySelector("#" + CSS.escape(name));
    if (named) { return named.querySelector(".says:not(:empty), figcaption:not(:empty), table, input") || !named.matches(".room"); }
    return living.querySelector("#fault:not(:empty)") || (living.querySelector(".page") && told(living) >= told(served));
  }
  function take() {
    var held = served.contains(document.activeElement) ? document.activeElement.getAttribute("href") : null;
    served.remove();
    if (window.location.hash) { window.dispatchEvent(new PopStateEvent("popstate")); }  // what it names has moved up
    var link = held && Array.from(living.querySelectorAll("a")).find(function (a) { return a.getAttribute("href") === held; });
    if (link) { link.focus({ preventScroll: true }); }
  }
  new MutationObserver(function (_, watch) {
    if (answered()) { watch.disconnect(); take(); }
  }).observe(living, { childList: true, subtree: true, characterData: true });

  // in their order: scripts with a source wait for each other, and one without runs after the last of them
  function run() {
    var last = null;
    document.querySelectorAll('script[type="text/later"]').forEach(function (one) {
      var script = document.createElement("script");
      script.async = false;
      if (one.src) {
        script.src = one.src;
        document.head.appendChild(script);
        last = script;
      } else {
        script.text = one.text;
        last.addEventListener("load", function () { document.head.appendChild(script); });
      }
    });
  }
  if (document.hidden) { run(); } else { requestAnimationFrame(function () { setTimeout(run, 0); }); }
})();
