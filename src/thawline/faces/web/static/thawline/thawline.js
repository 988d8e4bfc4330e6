// Everything works without this file; it guards against wrong clocks, stale times and double taps.
(() => {
  "use strict";

  const STALE = 90_000;
  const CLOCKS_APART = 120_000;
  const BUSY = 5_000;
  const root = document.documentElement;
  root.dataset.script = "on";

  // Times left: hidden once they are older than 90 seconds. CSS does it too, but a sleeping phone may stop its clock.
  const shownSince = new WeakMap();
  const timesLeft = () => document.querySelectorAll(".time-left");
  const noteNew = () => timesLeft().forEach((one) => shownSince.has(one) || shownSince.set(one, Date.now()));
  const hideAll = () => timesLeft().forEach((one) => { one.hidden = true; });
  const hideOld = () => timesLeft().forEach((one) => {
    if (Math.abs(Date.now() - (shownSince.get(one) ?? 0)) > STALE) one.hidden = true;
  });

  // Clocks: compared only on a page that comes straight from the server, never on one taken from a cache.
  const compare = () => {
    const server = Number(document.body.dataset.serverNow);
    if (!server) return;
    const apart = Math.abs(Date.now() - server);
    if (apart <= CLOCKS_APART) return;
    root.dataset.clock = "wrong";
    document.querySelectorAll("[data-clock-minutes]").forEach((one) => {
      one.textContent = String(Math.round(apart / 60_000));
    });
  };

  noteNew();
  const arrival = performance.getEntriesByType("navigation")[0];
  const cached = arrival && arrival.type === "back_forward" && !(arrival.transferSize > 0);
  if (cached) hideAll();
  else compare();

  addEventListener("pageshow", (event) => {
    if (!event.persisted) return;
    hideAll();
    document.querySelectorAll("form[aria-busy]").forEach(free);
  });
  document.addEventListener("visibilitychange", hideOld);
  document.addEventListener("htmx:afterSettle", () => { noteNew(); countAll(); });
  document.addEventListener("htmx:historyRestore", hideAll);
  setInterval(hideOld, BUSY);

  // Sending: the phone's own time goes along, and a second tap within five seconds does nothing.
  const busySince = new WeakMap();
  const free = (form) => {
    busySince.delete(form);
    form.removeAttribute("aria-busy");
  };
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (form.method !== "post") return;
    if (Date.now() - (busySince.get(form) ?? 0) < BUSY) {
      event.preventDefault();
      event.stopImmediatePropagation();
      return;
    }
    busySince.set(form, Date.now());
    form.setAttribute("aria-busy", "true");
    setTimeout(() => free(form), BUSY);
    for (const input of form.querySelectorAll('input[name="phone_now"]')) input.value = new Date().toISOString();
  }, true);
  document.addEventListener("htmx:afterRequest", (event) => {
    if (event.target.matches?.("form")) free(event.target);
  });

  // Choosing many: how many are ticked, and all or none at one tap.
  const boxes = (near, name) => [...(near.closest("[data-boxes], form") ?? document).querySelectorAll('input[type="checkbox"]')]
    .filter((box) => box.name === name && !box.disabled);
  const countAll = () => document.querySelectorAll("[data-count-of]").forEach((one) => {
    one.textContent = String(boxes(one, one.dataset.countOf).filter((box) => box.checked).length);
  });
  document.addEventListener("change", countAll);
  countAll();

  document.addEventListener("click", (event) => {
    const button = event.target.closest("button");
    if (!button) return;
    if (button.dataset.selectAll) {
      const all = boxes(button, button.dataset.selectAll);
      const tick = all.some((box) => !box.checked);
      all.forEach((box) => { box.checked = tick; });
      countAll();
    }
    if (button.dataset.show) {
      const secret = document.getElementById(button.dataset.show);
      const hidden = secret.type === "password";
      secret.type = hidden ? "text" : "password";
      button.setAttribute("aria-pressed", String(hidden));
    }
    if (button.dataset.copy) {
      const from = document.getElementById(button.dataset.copy);
      from.select();
      // Browsers give the first only to encrypted pages and to localhost.
      const byHand = () => document.execCommand("copy");
      if (navigator.clipboard) navigator.clipboard.writeText(from.value).catch(byHand);
      else byHand();
      button.textContent = button.dataset.copied;
    }
    if (button.dataset.stepBy) {
      const field = document.getElementById(button.getAttribute("aria-controls"));
      const value = Number(field.value.replace(",", ".")) || 0;
      field.value = String(Math.max(0, Math.round((value + Number(button.dataset.stepBy)) * 100) / 100));
      field.dispatchEvent(new Event("change", { bubbles: true }));
    }
  });
})();
