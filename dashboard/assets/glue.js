// What only the browser can do: its address, its storage, its clipboard, where the focus is. No figure is made here.
window.dash_clientside = window.dash_clientside || {};
window.dash_clientside.ridesim = (function () {
  var dc = window.dash_clientside;
  var units = {
    cruise: function (v) { return v + (document.documentElement.dataset.units === "us" ? " mph" : " km/h"); },
    grade: function (v) { return v + " %"; }
  };
  var resting = {}, PAUSE = 450;  // ms of no typing before a field is read
  var slid = ["cruise", "grade"];  // these stand last in a link, in this order
  function withSlid(query, key, text) {
    var parts = (query || "").replace(/^\?/, "").split("&").filter(Boolean), last = {};
    parts = parts.filter(function (part) {
      var name = part.split("=")[0], own = slid.indexOf(name) >= 0;
      if (own) { last[name] = part; }
      return !own;
    });
    last[key] = key + "=" + encodeURIComponent(text).replace(/%20/g, "+");
    return "?" + parts.concat(slid.filter(function (k) { return last[k]; }).map(function (k) { return last[k]; })).join("&");
  }
  // the component of this name that the page library has at this moment, if any; it throws when asked for one that it has not
  function found(id) {
    try { return window.dash_component_api.getLayout(id); } catch (e) { return undefined; }
  }
  function stands(id) { return found(id) !== undefined; }
  // the section that the address names, unfolded and brought into view
  function open_section() {
    var name = decodeURIComponent(window.location.hash.slice(1)), room = name && document.getElementById(name);
    if (!room) { return; }
    var title = room.matches("details.room") && room.querySelector("summary");
    if (title && !room.open) { title.click(); }
    if (title) { title.focus({ preventScroll: true }); }
    room.scrollIntoView();
  }
  window.addEventListener("popstate", open_section);
  // What is typed in a field is taken once it has rested. One that nobody is in takes at once what it is filled with: the page library
  // would tell that when it has rested, and take back what the field was filled with meanwhile.
  function pause(event, was, next) {
    var id = event.target.id || "", name = id.charAt(0) === "{" ? JSON.parse(id) : id;
    var field = name && found(name);
    if (field && field.props && field.props.debounce === was) { dc.set_props(name, { debounce: next }); }
  }
  document.addEventListener("focusin", function (event) { pause(event, 0, PAUSE); });
  document.addEventListener("focusout", function (event) { pause(event, PAUSE, 0); });
  // a section that is unfolded is in the address, so that a link copied then leads there
  document.addEventListener("toggle", function (event) {
    var room = event.target;
    if (!room.matches(".room ~ .room") || !room.open) { return; }
    window.history.replaceState(window.history.state, "", window.location.pathname + window.location.search + "#" + room.id);
  }, true);
  return {
    // what comes a moment later comes to nothing when its page has been turned meanwhile
    put: function (id, props) {
      if (stands(id)) { dc.set_props(id, props); }
    },
    open_address: function (search, query) {
      return (search || "") === query ? dc.no_update : (search || "");
    },
    keep_address: function (query) {
      if (query === null || query === undefined) { return; }
      dc.ridesim_history.note(query);
      if (/[?&](own|revision)=/.test(query)) {  // what a rider comes back to (early.js)
        try { window.localStorage.setItem("ridesim-last", query); } catch (e) { /* full or none: nothing kept */ }
      }
      if (window.location.search !== query) {
        window.history.replaceState(window.history.state, "", window.location.pathname + query + window.location.hash);
      }
      document.documentElement.dataset.units = /[?&]units=us(&|$)/.test(query) ? "us" : "metric";
      document.querySelectorAll("nav a, a.brand, .foot a").forEach(function (a) { a.setAttribute("href", a.pathname + query); });
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
      window.__ridesimArrived = true;
      open_section();
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
    // the units read in are remembered; a link's own stand before them (early.js)
    units: function (clicks) {
      var next = document.documentElement.dataset.units === "us" ? "metric" : "us";
      try { window.localStorage.setItem("ridesim-units", next); } catch (e) { /* nothing kept */ }
      document.cookie = "ridesim-units=" + next + "; path=/; max-age=31536000; SameSite=Strict";  // for the page as it is sent
    },
    copy: function () {
      var own = document.documentElement.dataset.units, link = new URL(window.location.href);
      var said = /[?&]units=/.test(link.search) ? "" : (link.search ? "&" : "?") + "units=" + own;
      var text = link.origin + link.pathname + link.search + said + link.hash;
      if (navigator.clipboard && window.isSecureContext) { navigator.clipboard.writeText(text).catch(function () {}); }
      return "Link copied";
    },
    narrow: function () { return window.innerWidth >= 1080; },
    print: function (clicks) { if (clicks) { window.print(); } return dc.no_update; },
    // what is wrong with a form comes into view, and the focus with it
    errors_told: function () {
      var summary = document.querySelector(".error-summary:not(:empty)");
      if (summary) { setTimeout(function () { summary.focus(); summary.scrollIntoView({ block: "center" }); }); }
    },
    answer_told: function (hidden) {
      var head = document.querySelector(".answer-head");
      if (!hidden && head && window.__ridesimArrived && stands("start-go")) { setTimeout(function () { head.focus({ preventScroll: true }); head.scrollIntoView(); }); }
    },
    tooth: function (less, more, value) {
      var pressed = dc.callback_context.triggered[0];  // of buttons that merely arrive none is
      return pressed && pressed.value ? Number(value) + (/-less\./.test(pressed.prop_id) ? -1 : 1) : dc.no_update;
    },
    slide: function (value, text, id, query) {
      var key = id.replace("slider-", "");
      if (value === null || value === undefined || parseFloat(text) === value) { return; }
      // the link takes it at once; the field, which the server reads, shows it when the hand rests: its answer would hold up the pages'
      dc.set_props("query", { data: withSlid(query, key, units[key](value)) });
      clearTimeout(resting[key]);
      resting[key] = setTimeout(function () { dc.set_props("field-" + key, { value: units[key](value) }); }, 300);
    }
  };
})();

// A file field that the page library lays out has no name of its own: it takes that of the box it stands in.
new MutationObserver(function () {
  document.querySelectorAll(".upload input[type=file]:not([aria-label])").forEach(function (field) {
    field.setAttribute("aria-label", field.closest(".upload").textContent.trim());
  });
  // Notes and cautions stand open the first time a page has them, and folded from then on; a new one opens them again.
  document.querySelectorAll("details.once:not([data-met])").forEach(function (box) {
    var room = box.closest(".room, [id]");
    var key = "ridesim-read " + window.location.pathname + " " + (room ? room.id : "") + " " + box.firstElementChild.textContent;
    box.dataset.met = "yes";
    try {
      if (window.localStorage.getItem(key)) { box.open = false; } else { window.localStorage.setItem(key, "yes"); }
    } catch (e) { /* no storage: always open */ }
  });
}).observe(document.documentElement, { childList: true, subtree: true });

// A line of what is wrong leads to its field.
document.addEventListener("click", function (event) {
  var line = event.target.closest && event.target.closest(".error-summary a");
  if (!line) { return; }
  event.preventDefault();
  var field = document.getElementById(line.hash.slice(1));
  for (var fold = field; fold; fold = fold.parentElement) { if (fold.tagName === "DETAILS") { fold.open = true; } }
  field.focus();
});

// A link within the app turns the page; the library's own links would each be told anew of every change of the address.
document.addEventListener("click", function (event) {
  var link = event.target.closest && event.target.closest("a.inside");
  if (!link || event.defaultPrevented || event.button || event.metaKey || event.ctrlKey || event.shiftKey || event.altKey) { return; }
  event.preventDefault();
  if (link.pathname === "/how-we-know") { link.search = window.location.search; }  // what is looked at goes along
  window.dash_clientside.ridesim_history.may_open(link.search).then(function (may) {
    if (!may) { return; }
    var same = link.pathname === window.location.pathname;
    window.history[same ? "replaceState" : "pushState"](null, "", link.getAttribute("href"));
    window.dispatchEvent(new PopStateEvent("popstate"));
    if (!link.hash) { window.scrollTo(0, 0); }
  });
});

// A program that was started anew does not know this tab any more: the rider is told what to do.
(function () {
  var ask = window.fetch;
  window.fetch = function () {
    return ask.apply(window, arguments).then(function (answer) {
      if (answer.status === 401) {
        var told = "The program no longer knows this tab: open the address that it printed when it was started.";
        window.dash_clientside.set_props("fault", { children: told });
      }
      return answer;
    });
  };
})();
