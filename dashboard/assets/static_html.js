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
  // a chart is drawn once it is nearly in view, or when it is printed
  function LateChart(props) {
    var box = React.useRef(null), seen = React.useState(false);
    React.useEffect(function () {
      if (seen[0]) { return; }
      function see() { seen[1](true); }
      var watch = new IntersectionObserver(function (entries) {
        if (entries.some(function (one) { return one.isIntersecting; })) { see(); }
      }, { rootMargin: "300px 0px" });
      watch.observe(box.current);
      window.addEventListener("beforeprint", see);
      return function () { watch.disconnect(); window.removeEventListener("beforeprint", see); };
    }, [seen[0]]);
    return seen[0]
      ? React.createElement(window.dash_core_components.Graph, props)
      : React.createElement("div", { id: props.id, ref: box, style: { height: "100%" } });
  }
  return { LateChart: LateChart, StaticHtml: StaticHtml, StaticLayout: StaticLayout, Address: Address };
})();
