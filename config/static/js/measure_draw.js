"use strict";

// Draws the marks and the lines between them over the film. Shapes tell the bones apart, dashes the sides.
(function (measuring) {
  const SVG = "http://www.w3.org/2000/svg";
  const LINES = [["clavicle_under", "coracoid_top"], ["clavicle_level", "acromion_level"]];
  const SHAPES = {
    coracoid: "M-7,0a7,7 0 1,0 14,0a7,7 0 1,0 -14,0",
    clavicle: "M0,-8L8,0L0,8L-8,0Z",
    acromion: "M-7,6L0,-8L7,6Z",
    horizon: "M-6,-6H6V6H-6Z",
    rim: "M-4,0H4M0,-4V4",
  };

  function make(tag, attributes, inside) {
    const element = document.createElementNS(SVG, tag);
    Object.entries(attributes).forEach(([name, value]) => element.setAttribute(name, value));
    inside.append(element);
    return element;
  }

  measuring.drawing = function (stage, size, words) {
    const lines = stage.querySelector("[data-lines]");
    const points = stage.querySelector("[data-points]");
    const drawn = new Map();

    function markOf(name) {
      const kind = name.split(/[_:]/)[0];
      const group = make("g", { "data-mark": name, tabindex: 0, role: "button" }, points);
      group.classList.toggle("other-side", name.endsWith("_other"));
      make("circle", { r: 22, class: "reach" }, group);
      make("path", { d: SHAPES[kind], class: "under" }, group);
      make("path", { d: SHAPES[kind], class: "shape" }, group);
      make("circle", { r: 0.9, class: "dot" }, group);
      make("text", { x: 12, y: -10 }, group).textContent = words(name);
      drawn.set(name, group);
      return group;
    }

    function place(name, at, unit) {
      const group = drawn.get(name) || markOf(name);
      group.setAttribute("transform", `translate(${at[0]} ${at[1] * size.aspect}) scale(${unit})`);
      group.setAttribute("aria-label", `${words(name)}, column ${at[0].toFixed(1)}, row ${at[1].toFixed(1)}`);
    }

    function line(a, b, kind) {
      make("line", { x1: a[0], y1: a[1], x2: b[0], y2: b[1], class: kind }, lines);
    }

    // The height itself: from the upper mark down, square to the horizontal, and along it to the lower one.
    function distances(marks, found) {
      measuring.SIDES.forEach((side) => {
        LINES.forEach(([upper, lower]) => {
          const ends = [marks[`${upper}_${side}`], marks[`${lower}_${side}`]];
          if (!ends[0] || !ends[1]) {
            return;
          }
          const [a, b] = ends.map((at) => measuring.stretched(at, size.aspect));
          const tall = measuring.height(a, b, found.level);
          const foot = [a[0] - found.level[1] * tall, a[1] + found.level[0] * tall];
          const dashed = side === "other" ? " other-side" : "";
          line(a, foot, `height${dashed}`);
          line(foot, b, `along${dashed}`);
        });
      });
    }

    return {
      // Draw everything anew; marks keep their elements, and with them the focus.
      draw(marks, rim, unit) {
        const all = { ...marks };
        rim.forEach((at, n) => { all[`rim:${n}`] = at; });
        [...drawn.keys()].filter((name) => !all[name]).forEach((name) => {
          drawn.get(name).remove();
          drawn.delete(name);
        });
        Object.entries(all).forEach(([name, at]) => place(name, at, unit));
        lines.replaceChildren();
        const found = measuring.measures(marks, size.aspect);
        if (marks.horizon_left && marks.horizon_right) {
          line(...[marks.horizon_left, marks.horizon_right].map((at) => measuring.stretched(at, size.aspect)), "horizontal");
        }
        distances(marks, found);
        const circle = measuring.circle(rim, size.aspect);
        if (circle) {
          make("circle", { cx: circle.x, cy: circle.y, r: circle.radius, class: "marker" }, lines);
        }
        return { found, circle };
      },
      focus(name) {
        const group = drawn.get(name);
        if (group) {
          group.focus({ preventScroll: true });
        }
      },
    };
  };
})(window.measuring = window.measuring || {});
