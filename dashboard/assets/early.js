// Before anything is drawn: the theme the rider chose, or the one the system prefers; the units chosen, where the link names none.
(function () {
  var kept = null;
  try { kept = window.localStorage.getItem("ridesim-theme"); } catch (e) { /* no storage: nothing kept */ }
  var dark = kept ? kept === "dark" : window.matchMedia("(prefers-color-scheme: dark)").matches;
  document.documentElement.dataset.theme = dark ? "dark" : "light";
  var last = null, place = window.location;
  try { last = window.localStorage.getItem("ridesim-last"); } catch (e) { /* no storage: nothing kept */ }
  if (last && place.pathname === "/" && !place.search) { place.replace("/" + last); }  // the rider's own bike comes first
  var units = null, at = window.location;
  try { units = window.localStorage.getItem("ridesim-units"); } catch (e) { /* no storage: nothing kept */ }
  if (units === "us" && !/[?&]units=/.test(at.search)) {
    window.history.replaceState(window.history.state, "", at.pathname + (at.search ? at.search + "&" : "?") + "units=us" + at.hash);
  }
})();
