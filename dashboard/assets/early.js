// Before anything is drawn: the theme the rider chose, or the one the system prefers.
(function () {
  var kept = null;
  try { kept = window.localStorage.getItem("ridesim-theme"); } catch (e) { /* no storage: nothing kept */ }
  var dark = kept ? kept === "dark" : window.matchMedia("(prefers-color-scheme: dark)").matches;
  document.documentElement.dataset.theme = dark ? "dark" : "light";
})();
