// The library of long tables is large, and few pages have one: it is read when the first is drawn, and stands in for nothing before.
window.dash_ag_grid = (function () {
  var real = null, reading = null, ours = {};
  function read() {
    reading = reading || new Promise(function (done) {
      var script = document.createElement("script");
      script.src = "/_dash-component-suites/dash_ag_grid/dash_ag_grid.min.js";
      script.onload = function () {
        real = window.dash_ag_grid.AgGrid;
        window.dash_ag_grid = ours;
        done();
      };
      document.head.appendChild(script);
    });
    return reading;
  }
  ours.AgGrid = function (props) {
    var drawn = React.useState(real !== null);
    React.useEffect(function () {
      var here = true;
      if (!drawn[0]) { read().then(function () { if (here) { drawn[1](true); } }); }
      return function () { here = false; };
    }, []);
    return drawn[0] ? React.createElement(real, props) : React.createElement("div", { style: props.style });
  };
  ours.AgGrid.dashRenderType = true;
  return ours;
})();
