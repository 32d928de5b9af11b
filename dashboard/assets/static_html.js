// Draws content that only stands there (dashboard/static_html.py): one component to the page library, plain elements to the browser.
window.ridesim_parts = (function () {
  // `content` fills the slots of a plan, `live` are the components that stand in it
  function draw(node, key, content, live) {
    if (Array.isArray(node)) { return node.map(function (one, n) { return draw(one, n, content, live); }); }
    if (node === null || typeof node !== "object") { return node; }
    if (node.live !== undefined) { return React.createElement(React.Fragment, { key: key }, live[node.live]); }
    var given = Object.assign({ key: key }, node.props);
    delete given.children;
    var inside = node.slot ? draw((content || {})[node.slot], 0) : draw(node.props.children, 0, content, live);
    if (inside === undefined) { inside = null; }
    return Array.isArray(inside)
      ? React.createElement.apply(null, [node.type, given].concat(inside))
      : React.createElement(node.type, given, inside);
  }
  function StaticHtml(props) {
    return React.useMemo(function () { return React.createElement(React.Fragment, null, draw(props.content, 0)); }, [props.content]);
  }
  function StaticLayout(props) {
    var live = [].concat(props.children === undefined || props.children === null ? [] : props.children);
    return React.createElement(React.Fragment, null, draw(props.plan, 0, props.content, live));
  }
  function Address(props) {
    React.useEffect(function () { window.dash_clientside.ridesim.keep_address(props.data); }, [props.data]);
    return null;
  }
  return { StaticHtml: StaticHtml, StaticLayout: StaticLayout, Address: Address };
})();
