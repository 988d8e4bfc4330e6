// Making and showing a passkey: the form is sent once the phone has answered. Without this file passwords remain.
(() => {
  "use strict";

  const options = async (form) => {
    if (form.dataset.options) return JSON.parse(form.dataset.options);
    const answer = await fetch(form.action, { headers: { Accept: "application/json" } });
    if (!answer.ok) throw new Error(String(answer.status));
    return (await answer.json()).request_options;
  };

  for (const form of document.querySelectorAll("form[data-passkey]")) {
    const says = form.querySelector("[data-passkey-fault]");
    if (!window.PublicKeyCredential || !window.webauthnJSON) continue;
    form.hidden = false;
    form.addEventListener("submit", async (event) => {
      event.preventDefault();
      says.hidden = true;
      try {
        const answer = await window.webauthnJSON[form.dataset.passkey](await options(form));
        form.elements.credential.value = JSON.stringify(answer);
        form.submit();
      } catch {
        says.hidden = false;
        form.removeAttribute("aria-busy");
      }
    });
  }
})();
