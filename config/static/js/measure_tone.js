"use strict";

// Contrast, level and black for white. A film of more than 256 greys is asked for anew in the wanted
// range, so that no grey of it is lost; until it comes, and for other films, the browser stretches.
(function (measuring) {
  measuring.tone = function (root, depth) {
    const [contrast, level] = ["contrast", "level"].map((name) => root.querySelector(`[data-tone=${name}]`));
    const inverts = root.querySelector("[data-act=invert]");
    const pictures = [...root.querySelectorAll("[data-picture]")];
    const span = depth.high - depth.low;
    // Black and white of what is loaded and of what is wanted, as shares of the usual range.
    let loaded = [0, 1];
    let inverted = false;

    function wanted() {
      const half = 0.5 / 2 ** (Number(contrast.value) / 50);
      const middle = 0.5 - Number(level.value) / 100;
      return [middle - half, middle + half];
    }

    function show() {
      const [black, white] = wanted();
      let slope = (loaded[1] - loaded[0]) / (white - black);
      let start = (loaded[0] - black) / (white - black);
      if (inverted) {
        [slope, start] = [-slope, 1 - start];
      }
      root.querySelectorAll("feFuncR, feFuncG, feFuncB").forEach((part) => {
        part.setAttribute("slope", slope);
        part.setAttribute("intercept", start);
      });
      inverts.setAttribute("aria-pressed", String(inverted));
    }

    function load() {
      if (depth.most - depth.least <= 255 || span <= 0) {
        return;
      }
      const inside = (value) => Math.min(Math.max(value, depth.least), depth.most);
      const [low, high] = wanted().map((share) => inside(depth.low + share * span));
      if (high <= low) {
        return;
      }
      const next = new Image();
      next.addEventListener("load", () => {
        loaded = [(low - depth.low) / span, (high - depth.low) / span];
        pictures.forEach((picture) => picture.setAttribute("href", next.src));
        show();
      });
      next.src = `${depth.address}?low=${low}&high=${high}`;
    }

    const tone = {
      invert() {
        inverted = !inverted;
        show();
      },
      plain() {
        [contrast.value, level.value, inverted] = [0, 0, false];
        show();
        load();
      },
    };
    [contrast, level].forEach((slider) => {
      slider.addEventListener("input", show);
      slider.addEventListener("change", load);
    });
    show();
    return tone;
  };

  // The place under the hand, magnified, in a corner where the hand is not.
  measuring.loupe = function (glass, view, size) {
    const TIMES = 3;
    let hides = 0;

    return function look(at, event) {
      window.clearTimeout(hides);
      if (!at) {
        hides = window.setTimeout(() => { glass.classList.add("away"); }, 300);
        return;
      }
      const half = (glass.clientWidth || 140) / 2 * Math.min(view.unit(), 4) / TIMES;
      const [x, y] = [at[0], at[1] * size.aspect];
      glass.setAttribute("viewBox", `${x - half} ${y - half} ${2 * half} ${2 * half}`);
      glass.querySelector("path").setAttribute("d", `M${x - half},${y}h${2 * half}M${x},${y - half}v${2 * half}`);
      glass.classList.remove("away");
      if (event) {
        const box = glass.parentElement.getBoundingClientRect();
        const near = event.clientX - box.left < box.width / 2 && event.clientY - box.top < box.height / 2;
        glass.classList.toggle("aside", near);
      }
    };
  };
})(window.measuring = window.measuring || {});
