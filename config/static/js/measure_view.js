"use strict";

// Which part of the film is seen: nearer, farther, aside. Film units are widths of a pixel.
(function (measuring) {
  const NEAREST = 1 / 24;

  measuring.view = function (stage, size, changed) {
    const whole = { w: size.columns, h: size.rows * size.aspect };
    let middle = [whole.w / 2, whole.h / 2];
    let unit = 1;

    // How many film units one pixel of the screen is, when the whole film is seen.
    function farthest() {
      return Math.max(whole.w / Math.max(stage.clientWidth, 1), whole.h / Math.max(stage.clientHeight, 1));
    }

    function show() {
      unit = Math.min(Math.max(unit, NEAREST), farthest());
      const seen = [unit * stage.clientWidth, unit * stage.clientHeight];
      // Where the film fits it stays in the middle; else its edge is the end.
      middle = [whole.w, whole.h].map((most, n) =>
        seen[n] >= most ? most / 2 : Math.min(Math.max(middle[n], seen[n] / 2), most - seen[n] / 2));
      stage.setAttribute("viewBox", [middle[0] - seen[0] / 2, middle[1] - seen[1] / 2, ...seen].join(" "));
      changed();
    }

    const view = {
      unit: () => unit,
      middle: () => [middle[0], middle[1] / size.aspect],
      // Where on the film a place of the screen is, as column and row.
      at(x, y) {
        const box = stage.getBoundingClientRect();
        return [
          middle[0] + (x - box.left - box.width / 2) * unit,
          (middle[1] + (y - box.top - box.height / 2) * unit) / size.aspect,
        ];
      },
      move(dx, dy) {
        middle = [middle[0] - dx * unit, middle[1] - dy * unit];
        show();
      },
      // Keep what lies under a place of the screen under it.
      zoom(times, x, y) {
        const box = stage.getBoundingClientRect();
        const aside = [(x ?? box.left + box.width / 2) - box.left - box.width / 2, (y ?? box.top + box.height / 2) - box.top - box.height / 2];
        const next = Math.min(Math.max(unit / times, NEAREST), farthest());
        middle = middle.map((one, n) => one + aside[n] * (unit - next));
        unit = next;
        show();
      },
      whole() {
        unit = farthest();
        show();
      },
      // Bring a mark into sight when the keys have moved it out.
      reveal(at) {
        const place = [at[0], at[1] * size.aspect];
        const half = [(unit * stage.clientWidth) / 2, (unit * stage.clientHeight) / 2];
        if (place.some((one, n) => Math.abs(one - middle[n]) > half[n] * 0.95)) {
          middle = place;
          show();
        }
      },
    };
    stage.style.aspectRatio = `${whole.w} / ${whole.h}`;
    new ResizeObserver(show).observe(stage);
    view.whole();
    return view;
  };
})(window.measuring = window.measuring || {});
