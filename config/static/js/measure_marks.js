"use strict";

// Where each mark stands. The form's own fields hold them, so that what is sent is what is seen.
(function (measuring) {
  const MOST_UNDONE = 200;
  const RIM = "rim:";

  function read(box) {
    const [x, y] = [...box.querySelectorAll("input")].map((input) => parseFloat(input.value));
    return Number.isFinite(x) && Number.isFinite(y) ? [x, y] : null;
  }

  // The form has to know that something in it was changed and not sent.
  function touched(field) {
    field.form.dispatchEvent(new Event("input"));
  }

  function write(box, at) {
    [...box.querySelectorAll("input")].forEach((input, n) => { input.value = at ? at[n].toFixed(1) : ""; });
    touched(box);
  }

  function readRim(field) {
    const lines = field ? field.value.split("\n") : [];
    const points = lines.map((line) => line.trim().split(/[\s,;]+/).map(Number));
    return points.filter((at) => at.length === 2 && at.every(Number.isFinite));
  }

  // `size` bounds every mark; `changed` is told after each change.
  measuring.marks = function (root, size, changed) {
    const boxes = new Map([...root.querySelectorAll("[data-landmark]")].map((box) => [box.dataset.landmark, box]));
    const rimField = root.querySelector("[data-rim]");
    let undone = [];
    let done = [];
    let last = { name: "", at: 0 };

    const state = () => ({
      marks: Object.fromEntries([...boxes].map(([name, box]) => [name, read(box)])),
      rim: readRim(rimField),
    });

    function restore(kept) {
      boxes.forEach((box, name) => write(box, kept.marks[name]));
      writeRim(kept.rim);
      changed();
    }

    function writeRim(points) {
      if (rimField) {
        rimField.value = points.map((at) => at.map((one) => one.toFixed(1)).join(" ")).join("\n");
        touched(rimField);
      }
    }

    // Remember how it stood; moving one mark bit by bit is one step.
    function remember(name) {
      const now = Date.now();
      if (name !== last.name || now - last.at > 800) {
        done = [...done, state()].slice(-MOST_UNDONE);
        undone = [];
      }
      last = { name, at: now };
    }

    function kept(at) {
      const inside = (value, most) => Math.round(Math.min(Math.max(value, 0), most) * 10) / 10;
      return [inside(at[0], size.columns), inside(at[1], size.rows)];
    }

    const marks = {
      names: () => [...boxes.keys()],
      box: (name) => boxes.get(name),
      get(name) {
        return name.startsWith(RIM) ? readRim(rimField)[Number(name.slice(RIM.length))] || null : read(boxes.get(name));
      },
      all() {
        return Object.fromEntries(Object.entries(state().marks).filter(([, at]) => at));
      },
      rim: () => readRim(rimField),
      put(name, at) {
        remember(name);
        if (name.startsWith(RIM)) {
          const points = readRim(rimField);
          points[Number(name.slice(RIM.length))] = kept(at);
          writeRim(points);
        } else {
          write(boxes.get(name), kept(at));
        }
        changed(name);
      },
      addRim(at) {
        const name = RIM + readRim(rimField).length;
        marks.put(name, at);
        return name;
      },
      remove(name) {
        remember(`- ${name}`);
        if (name.startsWith(RIM)) {
          writeRim(readRim(rimField).filter((_, n) => n !== Number(name.slice(RIM.length))));
        } else {
          write(boxes.get(name), null);
        }
        changed();
      },
      step(from, to) {
        last = { name: "", at: 0 };
        const kept = from.pop();
        if (kept) {
          to.push(state());
          restore(kept);
        }
      },
      undo: () => marks.step(done, undone),
      redo: () => marks.step(undone, done),
      canUndo: () => done.length > 0,
      canRedo: () => undone.length > 0,
    };
    // What is typed into a field moves its mark as well.
    root.addEventListener("input", (event) => {
      if (event.target.closest("[data-landmark]") || event.target === rimField) {
        changed();
      }
    });
    return marks;
  };
})(window.measuring = window.measuring || {});
