"use strict";

// The measuring page: the film with its marks, the form that holds them, and what they say.
(function (measuring) {
  function begin() {
    const root = document.querySelector("[data-measure]");
    if (!root) {
      return;
    }
    const told = JSON.parse(document.getElementById(root.dataset.measure).textContent);
    const stage = root.querySelector("[data-stage]");
    const names = new Map(told.landmarks);
    const words = (name) => names.get(name) || `rim of the marker, point ${Number(name.slice(4)) + 1}`;
    const page = {};
    let next = "";
    let ready = false;

    root.querySelectorAll("[data-scripted]").forEach((part) => { part.hidden = false; });

    function arm(name) {
      next = name;
      root.querySelectorAll("[data-arm]").forEach((button) => {
        button.setAttribute("aria-pressed", String(button.dataset.arm === name));
      });
      root.querySelectorAll("[data-landmark]").forEach((box) => box.classList.toggle("armed", box.dataset.landmark === name));
      const what = root.querySelector("[data-next]");
      what.textContent = name ? `Next mark: ${words(name)}.` : "Every mark is set; drag one, or move it with the arrow keys.";
      stage.classList.toggle("arms", Boolean(name));
    }

    function following() {
      return told.landmarks.map(([name]) => name).find((name) => !page.marks.get(name)) || "";
    }

    function refresh() {
      if (!ready) {
        return;
      }
      const [marks, rim] = [page.marks.all(), page.marks.rim()];
      tell(page.drawing.draw(marks, rim, page.view.unit()), marks, rim, told.landmarks);
      root.querySelector("[data-act=undo]").disabled = !page.marks.canUndo();
      root.querySelector("[data-act=redo]").disabled = !page.marks.canRedo();
    }

    function changed() {
      refresh();
      if (ready && next !== "rim" && (!next || page.marks.get(next))) {
        arm(following());
      }
    }

    page.waits = () => Boolean(next);
    page.place = (at) => {
      const name = next === "rim" ? page.marks.addRim(at) : next;
      if (name === next) {
        page.marks.put(name, at);
      }
      page.drawing.focus(name);
    };
    page.marks = measuring.marks(root, told, changed);
    page.view = measuring.view(stage, told, refresh);
    page.look = measuring.loupe(root.querySelector("[data-loupe]"), page.view, told);
    page.drawing = measuring.drawing(stage, told, words);
    const tone = measuring.tone(root, told.depth);
    page.invert = tone.invert;
    const tell = measuring.live(root, told);
    measuring.hand(stage, page);

    const acts = {
      nearer: () => page.view.zoom(1.4), farther: () => page.view.zoom(1 / 1.4), whole: page.view.whole,
      undo: page.marks.undo, redo: page.marks.redo, invert: tone.invert, plain: tone.plain,
    };
    root.addEventListener("click", (event) => {
      const button = event.target.closest("[data-act], [data-arm], [data-clear]");
      if (!button) {
        return;
      }
      if (button.dataset.act) {
        acts[button.dataset.act]();
      } else if (button.dataset.clear) {
        page.marks.remove(button.dataset.clear);
      } else {
        arm(button.dataset.arm);
        // By the keyboard, the film is where to go on: Enter sets the mark in its middle.
        stage.focus({ preventScroll: event.detail > 0 });
        stage.scrollIntoView({ block: "nearest" });
      }
    });
    root.querySelectorAll("[name=diameter_mm]").forEach((field) => field.addEventListener("input", refresh));
    ready = true;
    arm(following());
    refresh();
  }

  document.addEventListener("DOMContentLoaded", begin);
})(window.measuring = window.measuring || {});
