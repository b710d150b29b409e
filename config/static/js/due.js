"use strict";

// The Due list by keyboard: x ticks, b books, c calls, n ends, ? explains, Esc returns to the row.
// After an act the page loads anew; the focus goes back to the same row, or to the one in its place.

const KEPT = "due-row";

function rowsOf() {
  return [...document.querySelectorAll("table.due tbody tr")];
}

function rowAt(element) {
  return element instanceof Element ? element.closest("table.due tbody tr") : null;
}

function isTyping(element) {
  return element.matches("input:not([type=checkbox]), select, textarea, [contenteditable]");
}

function ticks() {
  return [...document.querySelectorAll("[data-tick]")];
}

// Say how many are ticked, and let the box for all follow.
function countTicks() {
  const all = document.querySelector("[data-tick-all]");
  const said = document.querySelector("[data-ticked]");
  if (!all || !said) {
    return;
  }
  const number = ticks().filter((box) => box.checked).length;
  all.checked = number > 0 && number === ticks().length;
  said.textContent = number ? `With the ${number} ticked:` : "With those that are ticked:";
}

function tickAll(event) {
  if (event.target.matches("[data-tick-all]")) {
    ticks().forEach((box) => { box.checked = event.target.checked; });
  }
  if (event.target.matches("[data-tick-all], [data-tick]")) {
    countTicks();
  }
}

// Act on the row that has the focus; the first press of a key without one goes to the first row.
function pressKey(event) {
  if (event.ctrlKey || event.metaKey || event.altKey) {
    return;
  }
  if (event.key === "Escape") {
    leaveAct(event.target);
    return;
  }
  if (isTyping(event.target)) {
    return;
  }
  if (event.key === "?") {
    const keys = document.getElementById("keys");
    if (keys) {
      keys.open = !keys.open;
      keys.querySelector("summary").focus();
      event.preventDefault();
    }
    return;
  }
  const row = rowAt(document.activeElement);
  if (!row) {
    return;
  }
  if (event.key === "x") {
    const box = row.querySelector("[data-tick]");
    box.checked = !box.checked;
    countTicks();
    event.preventDefault();
  } else if ("bcn".includes(event.key)) {
    const link = row.querySelector(`[data-key="${event.key}"]`);
    if (link) {
      link.click();
      event.preventDefault();
    }
  }
}

// Close what was opened at a row and return to it.
function leaveAct(element) {
  const row = rowAt(element);
  if (row) {
    row.querySelector("[data-act]").replaceChildren();
    row.querySelector("[data-walk-link]").focus();
  }
}

// What was asked for at a row takes the focus as soon as it is there.
function enterAct(event) {
  const place = event.detail.target;
  if (place.matches("[data-act]")) {
    const first = place.querySelector("[data-focus], select, input:not([type=hidden]), textarea, button");
    if (first) {
      first.focus();
    }
  }
}

// Before an act is sent, keep which row it was about.
function keepRow(event) {
  const row = rowAt(event.target);
  if (row) {
    sessionStorage.setItem(KEPT, JSON.stringify({ id: row.id, at: rowsOf().indexOf(row) }));
  }
}

function returnToRow() {
  const kept = JSON.parse(sessionStorage.getItem(KEPT) || "null");
  sessionStorage.removeItem(KEPT);
  const rows = rowsOf();
  if (!kept || !rows.length) {
    return;
  }
  const row = document.getElementById(kept.id) || rows[Math.min(kept.at, rows.length - 1)];
  row.querySelector("[data-walk-link]").focus();
}

document.addEventListener("change", tickAll);
document.addEventListener("keydown", pressKey);
document.addEventListener("submit", keepRow);
document.addEventListener("htmx:afterSwap", enterAct);
document.addEventListener("DOMContentLoaded", () => { countTicks(); returnToRow(); });
