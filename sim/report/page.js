// Tells the values of the charts' curves under the pointer. Without this script the page is complete.
"use strict";
(function () {
  const svgName = "http://www.w3.org/2000/svg";
  const reach = 24;  // page units

  function scale(words) {
    const [low, high, start, end, kind] = words.split(" ");
    return { low: +low, high: +high, start: +start, end: +end, log: kind === "log" };
  }

  function valueAt(axis, place) {
    const share = (place - axis.start) / (axis.end - axis.start);
    return axis.log ? axis.low * Math.pow(axis.high / axis.low, share) : axis.low + share * (axis.high - axis.low);
  }

  // As many digits as the picture holds: a thousandth of what a linear scale spans, three of a logarithmic one.
  function text(axis, value) {
    let words = value.toPrecision(3);
    if (!axis.log) {
      const finest = Math.floor(Math.log10((axis.high - axis.low) / 1000));
      words = finest > -8 && finest < 6 ? value.toFixed(Math.max(0, -finest)) : value.toPrecision(6);
    }
    return String(Number(words)).replace("-", "\u2212");
  }

  // The curves with a name, and the places of their points; shown names would otherwise be told twice.
  function curvesOf(plot) {
    const curves = [];
    for (const group of plot.querySelectorAll(".curve")) {
      const title = group.querySelector("title");
      const points = [];
      for (const line of group.querySelectorAll("polyline")) {
        for (const point of line.points) points.push([point.x, point.y]);
      }
      curves.push({ name: title ? title.textContent : "", points: points });
      if (title) title.remove();
    }
    return curves;
  }

  function nearest(curves, at) {
    let best = null;
    let least = reach;
    for (const curve of curves) {
      for (const [x, y] of curve.points) {
        const distance = Math.hypot(x - at.x, y - at.y);
        // Later curves lie on top.
        if (distance <= least) [best, least] = [{ name: curve.name, x: x, y: y }, distance];
      }
    }
    return best;
  }

  function element(parent, name, attributes) {
    const made = document.createElementNS(svgName, name);
    for (const key of Object.keys(attributes)) made.setAttribute(key, attributes[key]);
    return parent.appendChild(made);
  }

  function add(svg, plot) {
    const axes = { x: scale(plot.dataset.x), y: scale(plot.dataset.y) };
    const curves = curvesOf(plot);
    const width = svg.viewBox.baseVal.width;
    const tip = element(svg, "g", { class: "tip", visibility: "hidden", "pointer-events": "none" });
    const ring = element(tip, "circle", { r: 5, fill: "none", stroke: "#111", "stroke-width": 1.6 });
    const box = element(tip, "rect", { fill: "#fff", stroke: "#111", "stroke-width": 0.8 });
    const words = element(tip, "text", { "font-size": 12, fill: "#111" });

    function show(found) {
      const values = text(axes.x, valueAt(axes.x, found.x)) + ", " + text(axes.y, valueAt(axes.y, found.y));
      words.textContent = (found.name ? found.name + ": " : "") + values;
      ring.setAttribute("cx", found.x);
      ring.setAttribute("cy", found.y);
      words.setAttribute("x", 0);
      words.setAttribute("y", found.y > 44 ? found.y - 16 : found.y + 28);
      const size = words.getBBox();
      const left = Math.max(6, Math.min(found.x - size.width / 2, width - size.width - 6));
      words.setAttribute("x", left);
      box.setAttribute("x", left - 5);
      box.setAttribute("y", size.y - 3);
      box.setAttribute("width", size.width + 10);
      box.setAttribute("height", size.height + 6);
      tip.setAttribute("visibility", "visible");
    }

    svg.addEventListener("pointermove", function (event) {
      const found = nearest(curves, new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse()));
      if (found) show(found);
      else tip.setAttribute("visibility", "hidden");
    });
    svg.addEventListener("pointerleave", function () { tip.setAttribute("visibility", "hidden"); });
  }

  for (const svg of document.querySelectorAll("svg.chart")) {
    const plot = svg.querySelector(".plot");
    if (plot) add(svg, plot);
  }
  window.addEventListener("beforeprint", function () {
    for (const part of document.querySelectorAll("details.whole")) part.open = true;
    for (const tip of document.querySelectorAll("svg.chart .tip")) tip.setAttribute("visibility", "hidden");
  });
  document.documentElement.dataset.charts = "ok";
})();
