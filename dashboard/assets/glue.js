// What only the browser can do: its address, its storage, its clipboard, where the focus is. No figure is made here.
window.dash_clientside = window.dash_clientside || {};
window.dash_clientside.ridesim = (function () {
  var dc = window.dash_clientside;
  var units = {
    cruise: function (v) { return v + (document.documentElement.dataset.units === "us" ? " mph" : " km/h"); },
    grade: function (v) { return v + " %"; }
  };
  function queryOf(href) { var at = (href || "").indexOf("?"); return at < 0 ? "" : href.slice(at); }
  return {
    open_address: function (search, query) {
      return (search || "") === query ? dc.no_update : (search || "");
    },
    keep_address: function (query) {
      var links = Array.prototype.slice.call(arguments[1] && Array.isArray(arguments[1]) ? arguments[1] : Array.prototype.slice.call(arguments, 1));
      if (query === null || query === undefined) { return links.map(function () { return dc.no_update; }); }
      if (window.location.search !== query) {
        window.history.replaceState(window.history.state, "", window.location.pathname + query);
      }
      document.documentElement.dataset.units = /[?&]units=us(&|$)/.test(query) ? "us" : "metric";
      return links.map(function (href) { return (href || "").split("?")[0] + query; });
    },
    arrive: function (children, path) {
      var head = document.querySelector("#page h1");
      document.title = (head ? head.textContent + " · " : "") + "ridesim";
      document.querySelectorAll("nav a").forEach(function (a) {
        if (a.pathname === path) { a.setAttribute("aria-current", "page"); } else { a.removeAttribute("aria-current"); }
      });
      if (window.__ridesimArrived && document.activeElement && document.activeElement.closest("nav, .brand, .doors")) {
        document.getElementById("main").focus({ preventScroll: true });
        window.scrollTo(0, 0);
      }
      if (window.innerWidth < 700) { document.getElementById("menu").open = false; }
      window.__ridesimArrived = true;
      return path;
    },
    theme: function (clicks) {
      var dark = document.documentElement.dataset.theme === "dark";
      if (clicks) {
        dark = !dark;
        try { window.localStorage.setItem("ridesim-theme", dark ? "dark" : "light"); } catch (e) { /* nothing kept */ }
      }
      var name = dark ? "dark" : "light";
      document.documentElement.dataset.theme = name;
      return [name, name, dark ? "Theme: dark" : "Theme: light"];
    },
    copy: function () {
      var text = window.location.href;
      if (navigator.clipboard && window.isSecureContext) { navigator.clipboard.writeText(text).catch(function () {}); }
      return "Link copied";
    },
    narrow: function () { return [window.innerWidth >= 1080, window.innerWidth >= 700]; },
    print: function (clicks) { if (clicks) { window.print(); } return dc.no_update; },
    slide: function (value, text, id) {
      var key = id.replace("slider-", "");
      if (value === null || value === undefined || parseFloat(text) === value) { return; }
      dc.set_props("field-" + key, { value: units[key](value) });
    }
  };
})();

// A file field that the page library lays out has no name of its own: it takes that of the box it stands in.
new MutationObserver(function () {
  document.querySelectorAll(".upload input[type=file]:not([aria-label])").forEach(function (field) {
    field.setAttribute("aria-label", field.closest(".upload").textContent.trim());
  });
}).observe(document.documentElement, { childList: true, subtree: true });
