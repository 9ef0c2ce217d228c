/* Browser side of dashboards.drawing.Drawing: puts the SVG in place, keeps keyboard focus when it changes,
   and reports touches of a channel and drags along a time axis. */
(function () {
  "use strict";
  window.evenmelt = window.evenmelt || {};

  function timeAxis(svg) {
    const d = svg && svg.dataset;
    if (!d || d.t0 === undefined) return null;
    const box = svg.getBoundingClientRect();
    const scale = box.width / svg.viewBox.baseVal.width;
    const x0 = +d.x0, x1 = +d.x1, t0 = +d.t0, t1 = +d.t1;
    return {
      x0, x1, offset: +d.offset,
      at(clientX) {
        const x = Math.min(x1, Math.max(x0, (clientX - box.left) / scale));
        return { x, ms: Math.round(t0 + ((x - x0) / (x1 - x0)) * (t1 - t0)) };
      },
      inside(clientX) {
        const x = (clientX - box.left) / scale;
        return x >= x0 && x <= x1;
      },
    };
  }

  function put(svg, name, attributes) {
    let node = svg.querySelector("." + name);
    if (!node) {
      node = document.createElementNS("http://www.w3.org/2000/svg", name === "clock" ? "text" : name === "chosen" ? "rect" : "path");
      node.setAttribute("class", name);
      svg.appendChild(node);
    }
    for (const key of Object.keys(attributes)) node.setAttribute(key, attributes[key]);
    return node;
  }

  function Drawing(props) {
    const React = window.React;
    const ref = React.useRef(null);
    const drag = React.useRef(null);
    React.useLayoutEffect(function () {
      const el = ref.current;
      const held = el.contains(document.activeElement) ? document.activeElement.getAttribute("data-key") : null;
      el.innerHTML = props.svg || "";
      if (held) {
        const again = el.querySelector('[data-key="' + CSS.escape(held) + '"]');
        if (again) again.focus({ preventScroll: true });
      }
    }, [props.svg]);

    function touch(target) {
      const group = target.closest && target.closest("[data-key]");
      if (!group) return false;
      const n = props.touched ? props.touched.n + 1 : 1;
      props.setProps({ touched: { key: group.getAttribute("data-key"), n: n } });
      return true;
    }
    function down(event) {
      const svg = ref.current.querySelector("svg");
      const axis = timeAxis(svg);
      if (axis && event.button === 0 && axis.inside(event.clientX)) drag.current = axis.at(event.clientX);
    }
    function move(event) {
      const svg = ref.current.querySelector("svg");
      const axis = timeAxis(svg);
      if (!axis) return;
      const height = svg.viewBox.baseVal.height;
      if (!axis.inside(event.clientX)) return leave();
      const at = axis.at(event.clientX);
      put(svg, "cursor", { d: "M" + at.x + " 0V" + height });
      const wall = new Date(at.ms + axis.offset).toISOString().slice(11, 19);
      const right = at.x > axis.x1 - 80;
      put(svg, "clock", { x: at.x + (right ? -6 : 6), y: height - 2, "text-anchor": right ? "end" : "start" }).textContent = wall;
      if (drag.current && Math.abs(at.x - drag.current.x) > 4) {
        const x = Math.min(at.x, drag.current.x);
        put(svg, "chosen", { x: x, y: 0, width: Math.abs(at.x - drag.current.x), height: height });
      }
    }
    function up(event) {
      const svg = ref.current.querySelector("svg");
      const axis = timeAxis(svg);
      const from = drag.current;
      drag.current = null;
      if (!axis || !from) return;
      const to = axis.at(event.clientX);
      if (Math.abs(to.x - from.x) < 8) return;
      ref.current.dataset.dragged = "yes";
      props.setProps({ span: { from: Math.min(from.ms, to.ms), to: Math.max(from.ms, to.ms) } });
    }
    function leave() {
      for (const name of ["cursor", "clock", "chosen"]) {
        const node = ref.current && ref.current.querySelector("." + name);
        if (node) node.remove();
      }
    }
    function click(event) {
      if (ref.current.dataset.dragged) { delete ref.current.dataset.dragged; return; }
      touch(event.target);
    }
    function key(event) {
      if ((event.key === "Enter" || event.key === " ") && touch(event.target)) event.preventDefault();
    }
    return React.createElement("div", {
      id: props.id, className: "drawing-holder " + (props.className || ""), ref: ref, onClick: click, onKeyDown: key,
      onPointerDown: down, onPointerMove: move, onPointerUp: up, onPointerLeave: leave,
    });
  }

  window.evenmelt.Drawing = Drawing;
})();
