"use strict";

// Lets the browser make a passkey or use one, and sends its answer with the form. A form with
// data-passkey="create" or "get" names by data-options where the service's challenge stands.

const REFUSALS = {
  NotAllowedError: "It was not confirmed, or it took too long. Press the button to try again.",
  InvalidStateError: "This device keeps a passkey for you already.",
  NotSupportedError: "This browser can keep no passkeys. Use an authenticator.",
  SecurityError: "A browser makes passkeys for https and for the machine itself only.",
};

async function answer(form) {
  const asked = JSON.parse(document.getElementById(form.dataset.options).textContent);
  const made = form.dataset.passkey === "create"
    ? await window.webauthnJSON.create(asked.creation_options)
    : await window.webauthnJSON.get(asked.request_options);
  form.elements.credential.value = JSON.stringify(made);
  form.submit();
}

function bindPasskey(form) {
  const says = form.querySelector("[data-passkey-says]");
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    says.textContent = "";
    answer(form).catch((fault) => {
      says.textContent = REFUSALS[fault.name] || `The browser refused: ${fault.message}`;
    });
  });
}

document.addEventListener("DOMContentLoaded", () => {
  document.querySelectorAll("form[data-passkey]").forEach(bindPasskey);
});
