"use strict";

// Draws each figure from the JSON beside it; the words under it say the same.

const CONFIG = { responsive: true, displaylogo: false, displayModeBar: false, staticPlot: false };

function draw(holder) {
  const data = JSON.parse(document.getElementById(holder.dataset.figure).textContent);
  const place = holder.querySelector(".plot");
  const narrow = place.clientWidth < 560;
  const layout = { ...data.layout };
  if (narrow) {
    layout.font = { ...layout.font, size: 12 };
    layout.title = { ...layout.title, font: { size: 14 } };
  }
  window.Plotly.newPlot(place, data.data, layout, CONFIG);
  holder.querySelectorAll("[data-take]").forEach((button) => {
    button.addEventListener("click", () => {
      window.Plotly.downloadImage(place, {
        format: button.dataset.take,
        filename: holder.dataset.figure,
        width: 1200,
        height: layout.height || 600,
        scale: button.dataset.take === "png" ? 2 : 1,
      });
    });
  });
}

// Paper is narrower than a screen, and a drawn figure does not shrink by itself: it would be cut.
const PAPER_WIDTH = 660;

function redraw(width) {
  document.querySelectorAll("[data-figure] .plot.js-plotly-plot").forEach((place) => {
    window.Plotly.relayout(place, width ? { width, autosize: false } : { width: null, autosize: true });
  });
}

window.addEventListener("beforeprint", () => redraw(PAPER_WIDTH));
window.addEventListener("afterprint", () => redraw(null));

document.addEventListener("DOMContentLoaded", () => {
  document.querySelectorAll("[data-figure]").forEach(draw);
});
