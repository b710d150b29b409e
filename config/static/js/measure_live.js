"use strict";

// What the marks say so far, and which are still missing.
(function (measuring) {
  const ROWS = { ccd_injured: ["ccd", "injured"], ccd_other: ["ccd", "other"], acd_injured: ["acd", "injured"], acd_other: ["acd", "other"] };

  measuring.live = function (root, scale) {
    const outs = new Map([...root.querySelectorAll("[data-out]")].map((out) => [out.dataset.out, out]));
    const said = root.querySelector("[data-said]");
    const lacking = root.querySelector("[data-lacking]");
    let speaks = 0;

    function length(px) {
      if (px === null) {
        return "";
      }
      const pixels = `${px.toFixed(1)} px`;
      return scale.column_mm ? `${(px * scale.column_mm).toFixed(1)} mm (${pixels})` : pixels;
    }

    function signed(value) {
      return `${value > 0 ? "+" : ""}${value}`;
    }

    function write(name, text) {
      const out = outs.get(name);
      if (out) {
        out.textContent = text || "not marked";
        out.classList.toggle("missing", !text);
      }
    }

    // A screen reader hears the distances when the hand has come to rest.
    function say(found) {
      window.clearTimeout(speaks);
      speaks = window.setTimeout(() => {
        const parts = [["injured side", found.ccd.injured], ["other side", found.ccd.other]];
        const told = parts.filter(([, px]) => px !== null).map(([side, px]) => `CC distance, ${side}, ${length(px)}`);
        if (found.ratio !== null) {
          told.push(`ratio ${signed(found.ratio.toFixed(0))} %`);
        }
        said.textContent = told.join("; ");
      }, 600);
    }

    function list(marks, words) {
      const names = words.filter(([name]) => !marks[name]);
      lacking.replaceChildren(...names.map(([name, text]) => {
        const item = document.createElement("li");
        const button = document.createElement("button");
        button.type = "button";
        button.className = "plain";
        button.dataset.arm = name;
        button.textContent = text;
        item.append(button);
        return item;
      }));
      lacking.previousElementSibling.textContent = names.length ? `Not marked yet: ${names.length}` : "All marks are set.";
    }

    function marker(circle, count) {
      const out = outs.get("marker");
      if (!out) {
        return;
      }
      if (!circle) {
        out.textContent = `${count} point${count === 1 ? "" : "s"} on the rim; at least 4 are needed, well spread.`;
        return;
      }
      const diameter = parseFloat(root.querySelector("[name=diameter_mm]").value);
      const pixel = diameter > 0 ? `; a pixel is ${(diameter / (2 * circle.radius)).toFixed(4)} mm wide` : "";
      out.textContent = `Circle through ${count} points: radius ${circle.radius.toFixed(1)} px, residual ${circle.residual.toFixed(2)} px${pixel}.`;
    }

    return function tell({ found, circle }, marks, rim, words) {
      Object.entries(ROWS).forEach(([name, [what, side]]) => write(name, length(found[what][side])));
      write("ratio", found.ratio === null ? "" : `${signed(found.ratio.toFixed(1))} %`);
      write("difference", length(found.difference));
      write("tilt", found.steep ? "too steep to correct" : found.tilt === null ? "not marked: the picture's edge counts" : `${found.tilt.toFixed(1)} degrees, corrected`);
      marker(circle, rim.length);
      list(marks, words);
      say(found);
    };
  };
})(window.measuring = window.measuring || {});
