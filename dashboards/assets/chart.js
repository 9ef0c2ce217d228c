/* Charts by keyboard and by button: pan, zoom, the whole run; a read-out of what is shown; what is shown as CSV, PNG, SVG.
   What a chart says about itself is in its layout's meta, see dashboards/figures/chart_base.py. */
(function () {
  "use strict";
  const KEYS = { ArrowLeft: "left", ArrowRight: "right", "+": "in", "=": "in", "-": "out", "0": "whole", Home: "whole" };
  const STEP = 0.25, NEAREST_MS = 10000, NEAREST = 0.002, WAIT_MS = 120, NARROW = 900;
  const pending = new WeakMap();

  function graph(frame) { return frame.querySelector(".js-plotly-plot"); }

  function number(edge) {
    if (typeof edge === "number") return edge;
    const text = String(edge).replace(" ", "T");
    return Date.parse(text.length > 10 ? text + "Z" : text);
  }
  function meta(gd) { return (gd.layout && gd.layout.meta) || {}; }
  function dated(gd) { return gd.layout.xaxis.type === "date"; }
  function shown(gd) { return gd.layout.xaxis.range.map(dated(gd) ? number : Number); }

  /* The stretch after a step, held inside what there is. */
  function after(range, what, about, least) {
    const bounds = about.bounds, width = range[1] - range[0];
    if (what === "whole") return about.whole.slice();
    const wide = Math.min(bounds[1] - bounds[0], what === "in" ? Math.max(least, width / 2) : what === "out" ? width * 2 : width);
    const middle = (range[0] + range[1]) / 2 + (what === "left" ? -STEP * width : what === "right" ? STEP * width : 0);
    const start = Math.max(bounds[0], Math.min(bounds[1] - wide, middle - wide / 2));
    return [start, start + wide];
  }

  function step(frame, what) {
    const gd = graph(frame);
    if (!gd || !gd._fullLayout || !meta(gd).bounds) return;
    const was = pending.get(frame), range = was ? was.range : shown(gd);
    const least = dated(gd) ? NEAREST_MS : NEAREST * (meta(gd).bounds[1] - meta(gd).bounds[0]);
    const next = after(range, what, meta(gd), least);
    if (was) window.clearTimeout(was.timer);
    pending.set(frame, { range: next, timer: window.setTimeout(function () {
      pending.delete(frame);
      // As if drawn with the pointer, so that an answer from the server does not undo it.
      gd._fullLayout._guiEditing = true;
      const all = what === "whole" && meta(gd).reset === "server";
      const done = window.Plotly.relayout(gd, all ? { "xaxis.autorange": true }
        : { "xaxis.range[0]": next[0], "xaxis.range[1]": next[1] });
      gd._fullLayout._guiEditing = false;
      done.then(function () { read(frame); });
    }, WAIT_MS) });
  }

  function two(n) { return String(n).padStart(2, "0"); }
  function clock(ms, about, frame) {
    const at = new Date(ms), words = frame.dataset, h = at.getUTCHours();
    const hands = ":" + two(at.getUTCMinutes()) + ":" + two(at.getUTCSeconds());
    const time = about.hours === "12" ? (h % 12 || 12) + hands + " " + words.half.split(",")[h < 12 ? 0 : 1] : two(h) + hands;
    const month = words.months.split(",")[at.getUTCMonth()];
    return (about.date === "month" ? month + " " + at.getUTCDate() : at.getUTCDate() + " " + month) + " " + time;
  }
  function figure(y, about) {
    const text = String(+y.toPrecision(4));
    return about.mark === "comma" ? text.replace(".", ",") : text;
  }

  /* Lowest, highest and last reading of the stretch, said once the chart stands still. */
  function read(frame) {
    const gd = graph(frame), said = frame.querySelector(".chart-said"), about = meta(gd);
    const range = shown(gd);
    let low = Infinity, high = -Infinity, last = NaN;
    gd._fullData.filter(function (one) { return one.meta === "reading"; }).slice(0, 1).forEach(function (one) {
      for (let i = 0; i < one.x.length; i += 1) {
        const x = number(one.x[i]), y = one.y[i];
        if (x < range[0] || x > range[1] || y === null || !isFinite(y)) continue;
        low = Math.min(low, y); high = Math.max(high, y); last = y;
      }
    });
    const known = isFinite(low);
    const ends = range.map(function (x) { return dated(gd) ? clock(x, about, frame) : figure(x, about); });
    said.textContent = (known ? frame.dataset.read : frame.dataset.unread)
      .replace("{start}", ends[0]).replace("{end}", ends[1]).replace("{zone}", about.zone || "")
      .replace("{low}", known ? figure(low, about) : "").replace("{high}", known ? figure(high, about) : "")
      .replace("{last}", known ? figure(last, about) : "").replace("{unit}", about.unit || "").trim();
  }

  function utc(ms) { return new Date(ms).toISOString().slice(0, 19) + "Z"; }

  function table(frame) {
    const gd = graph(frame), about = meta(gd), range = shown(gd);
    const ends = dated(gd) ? range.map(function (x) { return utc(x - about.offset); }) : range.map(String);
    const link = document.createElement("a");
    link.href = about.csv + (about.csv.includes("?") ? "&" : "?") + "from=" + ends[0] + "&to=" + ends[1];
    link.download = "";
    document.body.appendChild(link);
    link.click();
    link.remove();
  }

  /* A picture leaves the page, and what its marks mean goes with it. */
  const SIGNS = { begins: "╷", lasts: "▬", setpoint: "╌", mean: "━", changed: "┊", forecast: "╱" };
  function explained(frame) {
    return Array.from(frame.querySelectorAll("[data-mark].there"), function (el) {
      return SIGNS[el.dataset.mark] + " " + el.textContent;
    });
  }

  function picture(frame, format) {
    const gd = graph(frame), about = meta(gd), marks = explained(frame);
    const margin = gd.layout.margin, narrow = gd.clientWidth < NARROW;
    const below = !marks.length ? 0 : narrow ? 8 + 18 * marks.length : 26;
    const told = { text: marks.join(narrow ? "<br>" : "    "), align: "left", x: 0, y: 0, xref: "paper", yref: "paper",
      xanchor: "left", yanchor: "top", yshift: -margin.b, showarrow: false, font: gd.layout.xaxis.tickfont };
    const layout = Object.assign({}, gd.layout, {
      paper_bgcolor: about.paper, plot_bgcolor: about.paper,
      margin: Object.assign({}, margin, { t: (margin.t || 0) + 34, b: margin.b + below }),
      annotations: (gd.layout.annotations || []).concat(marks.length ? [told] : []),
      title: { text: about.title, x: 0.01, xanchor: "left", y: 0.985, yanchor: "top", font: { size: 16 } },
    });
    const height = (gd.layout.height || gd.clientHeight) + 34 + below;
    window.Plotly.downloadImage({ data: gd.data, layout: Object.assign(layout, { height: height, width: gd.clientWidth }) }, {
      format: format, width: gd.clientWidth, height: height, scale: format === "png" ? 2 : 1, filename: about.name,
    });
  }

  function act(frame, what) {
    const gd = graph(frame);
    if (!gd || !gd.layout) return;
    if (what === "csv") table(frame);
    else if (what === "png" || what === "svg") picture(frame, what);
    else step(frame, what);
  }

  /* Under a chart stands what its marks mean, of those it has: looked at in the frame in which something was drawn. */
  let drawn = 0;
  function explain() {
    drawn = 0;
    document.querySelectorAll(".chart-frame").forEach(function (frame) {
      const gd = graph(frame), marks = (gd && gd.layout && meta(gd).marks) || [];
      frame.querySelectorAll("[data-mark]").forEach(function (el) {
        el.classList.toggle("there", marks.includes(el.dataset.mark));
      });
    });
  }
  new MutationObserver(function () { if (!drawn) drawn = window.requestAnimationFrame(explain); })
    .observe(document, { subtree: true, childList: true });

  document.addEventListener("keydown", function (event) {
    const hold = event.target;
    if (!hold.classList || !hold.classList.contains("chart-hold") || event.ctrlKey || event.altKey || event.metaKey) return;
    const what = KEYS[event.key];
    if (!what) return;
    event.preventDefault();
    step(hold.closest(".chart-frame"), what);
  });
  document.addEventListener("click", function (event) {
    const button = event.target.closest && event.target.closest("[data-do]");
    if (button) act(button.closest(".chart-frame"), button.dataset.do);
  });
})();
