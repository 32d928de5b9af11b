// Draws content that only stands there (dashboard/still.py): one component to the page library, plain elements to the browser.
window.ridesim_parts = (function () {
  function draw(node, key) {
    if (Array.isArray(node)) { return node.map(draw); }
    if (node === null || typeof node !== "object") { return node; }
    var given = Object.assign({ key: key }, node.props);
    delete given.children;
    var inside = draw(node.props.children);
    return Array.isArray(inside)
      ? React.createElement.apply(null, [node.type, given].concat(inside))
      : React.createElement(node.type, given, inside);
  }
  function Still(props) {
    return React.useMemo(function () { return React.createElement(React.Fragment, null, draw(props.content)); }, [props.content]);
  }
  return { Still: Still };
})();
