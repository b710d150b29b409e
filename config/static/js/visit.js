"use strict";

// A visit's page keeps what is typed as a draft of its own: every few seconds, and on leaving.
// The server keeps no decision in it. Without a connection, leaving asks first.

function watchVisit() {
  const form = document.querySelector("form[data-draft]");
  if (!form) {
    return;
  }
  const said = document.querySelector("[data-draft-said]");
  let typed = false;
  let failed = false;
  let sent = false;
  let busy = false;

  async function keep() {
    if (!typed || sent || busy) {
      return;
    }
    typed = false;
    busy = true;
    try {
      const answer = await fetch(form.dataset.draft, { method: "POST", body: new FormData(form) });
      failed = !answer.ok;
      said.textContent = answer.ok
        ? await answer.text()
        : "What you typed is not kept: the service refused it. Save the visit, or reload the page.";
    } catch {
      failed = true;
      said.textContent = "What you typed is not kept: the service does not answer.";
    }
    typed = typed || failed;
    busy = false;
  }

  function leave() {
    if (typed && !sent) {
      navigator.sendBeacon(form.dataset.draft, new FormData(form));
      typed = false;
    }
  }

  for (const kind of ["input", "change"]) {
    form.addEventListener(kind, () => { typed = true; });
  }
  form.addEventListener("submit", () => { sent = true; });
  window.addEventListener("pagehide", leave);
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "hidden") {
      leave();
    }
  });
  window.addEventListener("beforeunload", (event) => {
    if (failed && !sent) {
      event.preventDefault();
    }
  });
  window.setInterval(keep, Number(form.dataset.every) * 1000);
}

document.addEventListener("DOMContentLoaded", watchVisit);
