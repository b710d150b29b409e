// Drawing boxes on a picture: each becomes a line of numbers in the form, which works without this file.
(() => {
  const frame = document.querySelector("[data-draw-boxes]");
  const written = document.querySelector("[data-boxes]");
  if (!frame || !written) {
    return;
  }
  const picture = frame.querySelector("img");
  let start = null;
  let box = null;

  // Where in the picture's own pixels the pointer stands.
  const place = (event) => {
    const seen = picture.getBoundingClientRect();
    const within = (value, most) => Math.min(most, Math.max(0, Math.round(value)));
    return {
      x: within(((event.clientX - seen.left) / seen.width) * frame.dataset.columns, Number(frame.dataset.columns)),
      y: within(((event.clientY - seen.top) / seen.height) * frame.dataset.rows, Number(frame.dataset.rows)),
    };
  };
  const edges = (end) => [
    Math.min(start.x, end.x), Math.min(start.y, end.y), Math.max(start.x, end.x), Math.max(start.y, end.y),
  ];
  const show = (element, [x, y, toX, toY]) => {
    const share = (value, most) => `${(value / most) * 100}%`;
    element.style.insetInlineStart = share(x, frame.dataset.columns);
    element.style.insetBlockStart = share(y, frame.dataset.rows);
    element.style.inlineSize = share(toX - x, frame.dataset.columns);
    element.style.blockSize = share(toY - y, frame.dataset.rows);
  };
  const added = () => {
    const element = document.createElement("span");
    element.className = "painted";
    frame.append(element);
    return element;
  };
  const redraw = () => {
    frame.querySelectorAll(".painted").forEach((element) => element.remove());
    for (const line of written.value.split("\n")) {
      const numbers = line.trim().split(/[\s,]+/).map(Number);
      const four = numbers.length === 5 ? numbers.slice(1) : numbers;
      if (four.length === 4 && four.every(Number.isFinite)) {
        show(added(), four);
      }
    }
  };

  picture.draggable = false;
  frame.addEventListener("pointerdown", (event) => {
    const panel = written.closest("details");
    if (event.button !== 0 || (panel && !panel.open)) {
      return;
    }
    start = place(event);
    box = added();
    frame.setPointerCapture(event.pointerId);
    event.preventDefault();
  });
  frame.addEventListener("pointermove", (event) => {
    if (start) {
      show(box, edges(place(event)));
    }
  });
  frame.addEventListener("pointerup", (event) => {
    if (!start) {
      return;
    }
    const [x, y, toX, toY] = edges(place(event));
    start = null;
    if (toX > x && toY > y) {
      written.value = `${written.value.trim()}\n${x} ${y} ${toX} ${toY}`.trim();
    }
    redraw();
  });
  written.addEventListener("input", redraw);
  redraw();
})();
