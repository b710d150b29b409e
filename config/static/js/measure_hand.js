"use strict";

// What hand, pen, mouse and keys do on the film: set a mark, move it, move and magnify the film.
(function (measuring) {
  const STILL = 4;
  const BESIDE = 6;
  const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

  // `page` has marks, view, place(at) for the mark that is next, look(at) for the loupe, waits().
  measuring.hand = function (stage, page) {
    const { marks, view } = page;
    const down = new Map();
    let held = null;
    let travelled = 0;

    const spread = () => {
      const [a, b] = [...down.values()];
      return { apart: Math.hypot(a[0] - b[0], a[1] - b[1]), at: [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2] };
    };

    function press(event) {
      if (event.button > 0) {
        return;
      }
      stage.setPointerCapture(event.pointerId);
      down.set(event.pointerId, [event.clientX, event.clientY]);
      travelled = down.size > 1 ? Infinity : 0;
      const mark = event.target.closest("[data-mark]");
      held = null;
      if (mark && down.size === 1) {
        const [at, mouse] = [marks.get(mark.dataset.mark), view.at(event.clientX, event.clientY)];
        held = { name: mark.dataset.mark, off: [at[0] - mouse[0], at[1] - mouse[1]] };
        mark.focus({ preventScroll: true });
        event.preventDefault();
      }
    }

    function move(event) {
      const before = down.get(event.pointerId);
      if (!before) {
        page.look(view.at(event.clientX, event.clientY), event);
        return;
      }
      if (down.size === 2) {
        const old = spread();
        down.set(event.pointerId, [event.clientX, event.clientY]);
        const now = spread();
        view.zoom(now.apart / Math.max(old.apart, 1), ...now.at);
        view.move(now.at[0] - old.at[0], now.at[1] - old.at[1]);
        return;
      }
      const step = [event.clientX - before[0], event.clientY - before[1]];
      travelled += Math.hypot(...step);
      down.set(event.pointerId, [event.clientX, event.clientY]);
      if (travelled <= STILL) {
        return;
      }
      const at = view.at(event.clientX, event.clientY);
      if (held) {
        marks.put(held.name, [at[0] + held.off[0], at[1] + held.off[1]]);
        page.look(marks.get(held.name), event);
      } else {
        view.move(...step);
      }
    }

    // A short touch sets the mark that is next, also close beside another one.
    function release(event) {
      const was = down.delete(event.pointerId);
      if (!was || event.type === "pointercancel" || travelled > STILL) {
        held = null;
        return;
      }
      const at = view.at(event.clientX, event.clientY);
      const beside = held ? Math.hypot(...held.off) / view.unit() > BESIDE : true;
      if (beside && page.waits()) {
        page.place(at);
      }
      held = null;
    }

    function keys(event) {
      const arrow = ARROWS[event.key];
      const mark = event.target.closest("[data-mark]");
      const command = event.ctrlKey || event.metaKey;
      const act = {
        "+": () => view.zoom(1.25), "=": () => view.zoom(1.25), "-": () => view.zoom(0.8), 0: view.whole,
        i: page.invert, u: marks.undo, r: marks.redo,
      }[event.key];
      if (command && "zZyY".includes(event.key)) {
        (event.shiftKey || event.key.toLowerCase() === "y" ? marks.redo : marks.undo)();
      } else if (command || event.altKey) {
        return;
      } else if (arrow && mark) {
        nudge(mark.dataset.mark, arrow, event.shiftKey ? 10 : 1);
      } else if (arrow) {
        view.move(-60 * arrow[0], -60 * arrow[1]);
      } else if (mark && ["Delete", "Backspace"].includes(event.key)) {
        marks.remove(mark.dataset.mark);
        stage.focus({ preventScroll: true });
      } else if (event.key === "Enter" && !mark && page.waits()) {
        page.place(view.middle());
      } else if (act) {
        act();
      } else {
        return;
      }
      event.preventDefault();
    }

    function nudge(name, arrow, step) {
      const at = marks.get(name);
      marks.put(name, [at[0] + arrow[0] * step, at[1] + arrow[1] * step]);
      view.reveal(marks.get(name));
      page.look(marks.get(name));
    }

    stage.addEventListener("pointerdown", press);
    stage.addEventListener("pointermove", move);
    stage.addEventListener("pointerup", release);
    stage.addEventListener("pointercancel", release);
    stage.addEventListener("pointerleave", () => page.look(null));
    stage.addEventListener("keydown", keys);
    stage.addEventListener("focusout", () => page.look(null));
    stage.addEventListener("wheel", (event) => {
      event.preventDefault();
      view.zoom(Math.exp(-event.deltaY * 0.0015), event.clientX, event.clientY);
    }, { passive: false });
  };
})(window.measuring = window.measuring || {});
