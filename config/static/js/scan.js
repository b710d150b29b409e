"use strict";

// Labels typed by a scanner, pasted, or read by the camera go to the service one after the other, and
// the list that comes back replaces the one on the page. What is typed meanwhile waits its turn.

const GROUP_SEPARATOR = "\u001d";

function scanner() {
  const place = document.querySelector("[data-scan]");
  if (!place) {
    return null;
  }
  const standsAlone = !place.hidden;
  place.hidden = false;
  return {
    standsAlone,
    field: place.querySelector("[data-scan-field]"),
    status: place.querySelector("[data-scan-status]"),
    form: document.getElementById(place.dataset.scanForm),
    url: place.dataset.scanUrl,
    waiting: [],
    busy: false,
  };
}

// Scanners send the separator as Ctrl and ], which types nothing by itself.
function putSeparator(field) {
  const [from, to] = [field.selectionStart, field.selectionEnd];
  field.value = field.value.slice(0, from) + GROUP_SEPARATOR + field.value.slice(to);
  field.setSelectionRange(from + 1, from + 1);
}

function listenToKeys(event, scan) {
  const isSeparator = event.ctrlKey && (event.key === "]" || event.code === "BracketRight");
  if (isSeparator || event.key === GROUP_SEPARATOR) {
    event.preventDefault();
    putSeparator(scan.field);
  } else if (event.key === "Enter") {
    event.preventDefault();
    takeLabel(scan, scan.field.value);
    scan.field.value = "";
  }
}

// As Alt and 0029 it arrives as a character that a browser would not insert.
function listenToCharacters(event, scan) {
  if (event.charCode === 29 && !event.ctrlKey) {
    event.preventDefault();
    putSeparator(scan.field);
  }
}

function takeLabel(scan, text) {
  if (text.trim()) {
    scan.waiting.push(text);
  }
  sendWaiting(scan);
}

async function sendWaiting(scan) {
  if (scan.busy || !scan.waiting.length) {
    return;
  }
  scan.busy = true;
  const sent = scan.waiting.splice(0);
  const body = new FormData(scan.form);
  body.delete("scan");
  body.delete("act");
  sent.forEach((text) => body.append("scan", text));
  try {
    const answer = await fetch(scan.url, { method: "POST", body, credentials: "same-origin" });
    if (!answer.ok) {
      throw new Error(String(answer.status));
    }
    const list = document.getElementById("scanned");
    list.innerHTML = await answer.text();
    scan.status.textContent = "";
    list.dispatchEvent(new Event("change", { bubbles: true }));
  } catch {
    scan.status.textContent = "The service did not answer. Press Enter in the field to try again.";
    scan.waiting = sent.concat(scan.waiting);
    scan.busy = false;
    return;
  }
  scan.busy = false;
  sendWaiting(scan);
}

document.addEventListener("DOMContentLoaded", () => {
  const scan = scanner();
  if (!scan) {
    return;
  }
  scan.field.addEventListener("keydown", (event) => listenToKeys(event, scan));
  scan.field.addEventListener("keypress", (event) => listenToCharacters(event, scan));
  document.addEventListener("label-seen", (event) => takeLabel(scan, event.detail));
  const add = document.querySelector("[data-scan-add], [data-scan] [name=act][value=add]");
  add.addEventListener("click", (event) => {
    event.preventDefault();
    takeLabel(scan, scan.field.value);
    scan.field.value = "";
    scan.field.focus();
  });
  if (scan.standsAlone && !document.querySelector("[data-focus]")) {
    scan.field.focus();
  }
});
