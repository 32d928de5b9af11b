// Tables by the keyboard: each is one stop of Tab; the arrows move inside, and Escape leaves, as Tab does. And the name of what is printed.
(function () {
  var STOPS = "a[href], button:not([disabled]), input:not([disabled]), select, textarea, summary, [tabindex='0']";
  function next(table, back) {
    var stops = Array.from(document.querySelectorAll(STOPS)).filter(function (one) {
      return one.tabIndex >= 0 && one.getClientRects().length && !table.contains(one);
    });
    var side = back ? Node.DOCUMENT_POSITION_PRECEDING : Node.DOCUMENT_POSITION_FOLLOWING;
    var there = stops.filter(function (one) { return table.compareDocumentPosition(one) & side && !one.contains(table); });
    return back ? there[there.length - 1] : there[0];
  }
  // the field a row up or down, or beside: the last two only where the caret stands at the end of its text
  function beside(table, field, key) {
    var fields = Array.from(table.querySelectorAll("input")), row = field.closest("tr").querySelectorAll("input").length;
    var step = { ArrowUp: -row, ArrowDown: row, Enter: row, ArrowLeft: -1, ArrowRight: 1 }[key], end = key === "ArrowLeft" ? 0 : field.value.length;
    if (!step || (Math.abs(step) === 1 && !(field.selectionStart === end && field.selectionEnd === end))) { return null; }
    return fields[fields.indexOf(field) + step];
  }
  document.addEventListener("keydown", function (event) {
    var table = event.target.closest && event.target.closest(".cells, .grid-table, .ag-root-wrapper, .scrolling");
    if (!table || event.altKey || event.ctrlKey || event.metaKey) { return; }
    var leaves = event.key === "Escape" || (event.key === "Tab" && !table.matches(".scrolling"));
    var to = leaves ? next(table, event.key === "Tab" && event.shiftKey)
      : table.matches(".cells, .grid-table") && event.target.matches("input") && beside(table, event.target, event.key);
    if (!to) { return; }
    event.preventDefault();
    event.stopPropagation();
    to.focus();
  }, true);
})();

// A page that is printed to a file is named for the bike and the day.
(function () {
  var was = null;
  window.addEventListener("beforeprint", function () {
    var bike = document.querySelector("#sheet-head h3");
    if (!bike) { return; }
    was = document.title;
    document.title = bike.textContent + " " + new Date().toISOString().slice(0, 10);
  });
  window.addEventListener("afterprint", function () { if (was) { document.title = was; was = null; } });
})();
