// The running time ticks on; without this the page shows it as of when it was asked for.
(() => {
  "use strict";
  const shown = document.querySelector("[data-ticks]");
  if (!shown) return;
  const before = Number(shown.dataset.ticks);
  const since = Date.now();
  const two = (number) => String(number).padStart(2, "0");
  const tick = () => {
    const all = Math.max(before, before + Math.floor((Date.now() - since) / 1000));
    const [hours, minutes, seconds] = [Math.floor(all / 3600), Math.floor(all / 60) % 60, all % 60];
    shown.textContent = hours ? `${hours}:${two(minutes)}:${two(seconds)}` : `${minutes}:${two(seconds)}`;
  };
  tick();
  setInterval(tick, 1000);
})();
