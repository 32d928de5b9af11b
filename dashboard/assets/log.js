// A log chosen on a page: too large a one is refused here, before it is sent anywhere.
window.dash_clientside = window.dash_clientside || {};
window.dash_clientside.ridesim_log = {
  chosen: function (contents, name, limit) {
    var dc = window.dash_clientside;
    if (!contents) { return [dc.no_update, dc.no_update]; }
    if (contents.length > limit[0]) { return [dc.no_update, name + ": is larger than " + limit[1] + ", the most for a page. Cut it to the ride you mean, or use the command line (ridesim log)."]; }
    return [{ contents: contents, name: name }, ""];
  }
};
