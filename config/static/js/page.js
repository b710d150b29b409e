"use strict";

// Small behaviours that any page may use, bound by data attributes. Every page works without them.

// Move the focus to what a person has to read first after a refused form.
function focusFirst() {
  const target = document.querySelector("[data-focus]");
  if (target) {
    target.focus();
  }
}

// Ask before a form that cannot be taken back simply; data-confirm holds the question.
function guardSubmit(event) {
  const question = event.target.dataset.confirm;
  if (question && !window.confirm(question)) {
    event.preventDefault();
  }
}

// Send a filter form as soon as one of its choices changes.
function sendOnChange(event) {
  const form = event.target.closest("form[data-send-on-change]");
  if (form) {
    form.requestSubmit();
  }
}

// Walk a list with j and k (or the arrows) and open the row with Enter.
function walkRows(event) {
  const list = document.querySelector("[data-walk]");
  if (!list || event.ctrlKey || event.metaKey || event.altKey) {
    return;
  }
  if (event.target.matches("input, select, textarea, button, summary, [contenteditable]")) {
    return;
  }
  const step = { j: 1, ArrowDown: 1, k: -1, ArrowUp: -1 }[event.key];
  if (!step) {
    return;
  }
  const links = [...list.querySelectorAll("[data-walk-link]")];
  const at = links.indexOf(document.activeElement);
  const next = at < 0 ? (step > 0 ? 0 : links.length - 1) : at + step;
  if (links[next]) {
    event.preventDefault();
    links[next].focus();
  }
}

// Print the page by a button.
function printPage(event) {
  if (event.target.closest("[data-print]")) {
    window.print();
  }
}

// Warn before leaving a form in which something was typed and not sent.
function watchTyping() {
  const form = document.querySelector("form[data-keep]");
  if (!form) {
    return;
  }
  let typed = false;
  form.addEventListener("input", () => { typed = true; });
  form.addEventListener("submit", () => { typed = false; });
  window.addEventListener("beforeunload", (event) => {
    if (typed) {
      event.preventDefault();
    }
  });
}

// Say in words what the server refused; without this a refused part of a page would just not come.
function sayRefusal(event) {
  const page = new DOMParser().parseFromString(event.detail.xhr.responseText, "text/html");
  const said = page.querySelector("main .error, main p");
  const place = document.querySelector(".messages");
  const message = document.createElement("p");
  message.className = "message error";
  message.textContent = said ? said.textContent.trim() : "The service did not answer; try again.";
  place.replaceChildren(message);
  place.scrollIntoView({ block: "nearest" });
}

document.addEventListener("DOMContentLoaded", () => { focusFirst(); watchTyping(); });
document.addEventListener("submit", guardSubmit);
document.addEventListener("change", sendOnChange);
document.addEventListener("click", printPage);
document.addEventListener("keydown", walkRows);
document.addEventListener("htmx:responseError", sayRefusal);
document.addEventListener("htmx:sendError", sayRefusal);
