// Draws the charts of a report from its block of data. What went wrong is shown on the page, not hidden.
"use strict";
(function () {
  const root = document.documentElement;
  const shown = document.getElementById("chart-errors");

  function complain(words) {
    root.dataset.charts = "failed";
    shown.hidden = false;
    shown.textContent += "A chart could not be drawn: " + words + ". The tables hold its values. ";
  }
  window.addEventListener("error", function (event) { complain(event.message); });

  // As few digits as tell ticks apart, no exponents within reason, a true minus sign.
  function tickText(value) {
    const text = Math.abs(value) < 1e-6 || Math.abs(value) >= 1e7 ? value.toPrecision(3) : value.toPrecision(7);
    return String(Number(text)).replace("-", "\u2212");
  }

  function logTickText(value) {
    const digit = Math.round(value / Math.pow(10, Math.floor(Math.log10(value) + 1e-9)));
    return digit === 1 || digit === 2 || digit === 5 ? tickText(value) : "";
  }

  function axis(spec, extra) {
    const log = spec.scale === "log";
    const options = {
      type: spec.categories ? "category" : log ? "logarithmic" : "linear",
      title: { display: spec.label !== "", text: spec.label, color: "#111" },
      grid: { color: "#ddd", borderColor: "#111", tickColor: "#111" },
      ticks: { color: "#111", maxRotation: 0, autoSkip: !spec.categories, includeBounds: false },
    };
    if (spec.categories) options.labels = spec.categories;
    else options.ticks.callback = log ? logTickText : tickText;
    // Soft bounds are widened to the next round tick.
    if (spec.min !== undefined) options[spec.soft ? "suggestedMin" : "min"] = spec.min;
    if (spec.max !== undefined) options[spec.soft ? "suggestedMax" : "max"] = spec.max;
    return Object.assign(options, extra || {});
  }

  // Bars that differ by more than colour: one even, one hatched.
  function hatched(colour) {
    const tile = document.createElement("canvas");
    tile.width = tile.height = 12;
    const pen = tile.getContext("2d");
    pen.fillStyle = "#fff";
    pen.fillRect(0, 0, 12, 12);
    pen.strokeStyle = colour;
    pen.lineWidth = 3;
    pen.beginPath();
    for (const start of [-12, 0, 12]) {
      pen.moveTo(start, 12);
      pen.lineTo(start + 12, 0);
    }
    pen.stroke();
    return pen.createPattern(tile, "repeat");
  }

  function point(pair) { return { x: pair[0], y: pair[1] }; }

  function curve(set, index) {
    return {
      order: -index,  // the library draws the least last: later curves lie on top
      label: set.label,
      data: set.points.map(point),
      showLine: set.line,
      borderColor: set.colour,
      borderWidth: set.width,
      borderDash: set.dash,
      pointStyle: set.marker || "circle",
      pointRadius: set.marker ? 3.2 : 0,
      pointHitRadius: 4,
      pointBorderColor: set.colour,
      pointBackgroundColor: set.hollow ? "#fff" : set.colour,
      stepped: set.stepped ? "before" : false,
      fill: set.fill === "band" ? "-1" : set.fill === "area" ? "origin" : false,
      backgroundColor: "#d9d9d9",
      spanGaps: false,
    };
  }

  function bar(set) {
    return {
      label: set.label,
      data: set.values,
      backgroundColor: set.hatched ? hatched(set.colour) : set.colour,
      borderColor: set.colour,
      borderWidth: 1,
      borderSkipped: false,
      maxBarThickness: 16,
    };
  }

  // Lines across the whole chart at a value of the x axis, as for a tolerance.
  const marks = {
    id: "marks",
    afterDatasetsDraw: function (chart) {
      const pen = chart.ctx;
      for (const mark of chart.options.plugins.marks.at || []) {
        const x = chart.scales.x.getPixelForValue(mark);
        if (x < chart.chartArea.left - 1 || x > chart.chartArea.right + 1) continue;
        pen.save();
        pen.strokeStyle = "#111";
        pen.setLineDash([6, 4]);
        pen.beginPath();
        pen.moveTo(x, chart.chartArea.top);
        pen.lineTo(x, chart.chartArea.bottom);
        pen.stroke();
        pen.restore();
      }
    },
  };

  function draw(spec) {
    const canvas = document.getElementById(spec.id);
    canvas.hidden = false;
    const bars = spec.bars === true;
    const scales = { x: axis(spec.x), y: axis(spec.y, bars ? { grid: { display: false, borderColor: "#111" } } : {}) };
    return new Chart(canvas, {
      type: bars ? "bar" : "scatter",
      data: { datasets: spec.sets.map(bars ? bar : curve) },
      options: {
        responsive: false,
        animation: false,
        devicePixelRatio: 3,
        locale: "en",
        indexAxis: bars ? "y" : "x",
        scales: scales,
        layout: { padding: { top: 6, right: 10 } },
        plugins: { legend: { display: false }, marks: { at: spec.marks || [] } },
      },
      plugins: [marks],
    });
  }

  window.addEventListener("beforeprint", function () {
    for (const part of document.querySelectorAll("details.whole")) part.open = true;
  });

  let drawn = true;
  try {
    Chart.defaults.font.family = getComputedStyle(document.body).fontFamily;
    Chart.defaults.font.size = 12;
    for (const spec of JSON.parse(document.getElementById("data").textContent).charts) {
      try {
        draw(spec);
      } catch (error) {
        drawn = false;
        complain(spec.id + ": " + error.message);
      }
    }
  } catch (error) {
    drawn = false;
    complain(error.message);
  }
  if (drawn && root.dataset.charts !== "failed") root.dataset.charts = "ok";
})();
