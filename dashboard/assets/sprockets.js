// The table and the points of the choice of sprockets: what the keyboard and the hand do there, and when to look closer.
window.dashAgGridFunctions = window.dashAgGridFunctions || {};
window.dashAgGridFunctions.takeRow = function (event, tell) {
  // a click anywhere in a row, or Enter on it
  if (event.type === "cellKeyDown" && event.event.key !== "Enter") { return; }
  if (event.data) { tell(event.data.id); }
};
window.dash_clientside = window.dash_clientside || {};
window.dash_clientside.ridesim_sprockets = (function () {
  var soon, waiting;
  return {
    // what stands further down comes a moment later;
    // which pairs cannot be told apart is said in words once the hand rests, not while it moves
    rest: function (drawn, rested) {
      var put = window.dash_clientside.ridesim.put;
      clearTimeout(soon);
      clearTimeout(waiting);
      if (!drawn || drawn.choice === rested) { return; }
      soon = setTimeout(function () {
        put("sprockets-alike", { children: null });
        put("sprockets-rested", { data: null });
        put("sprockets-settled", { data: drawn.choice });
      }, 250);
      waiting = setTimeout(function () { put("sprockets-rested", { data: drawn.choice }); }, 900);
    },
    point: function (click) {
      var point = click && click.points && click.points[0];
      return point && point.customdata ? { name: point.customdata, at: Date.now() } : window.dash_clientside.no_update;
    }
  };
})();
