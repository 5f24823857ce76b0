// Makes the start button work before the rest of the page has come: over a bad line that takes seconds.
// The instant alone is put aside, in this tab; app.js takes it over.
"use strict";

(() => {
  const start = document.getElementById("start");
  const face = document.getElementById("first-face");
  const KEPT = "wash-start";
  const two = (n) => String(n).padStart(2, "0");
  const kept = (act) => {
    try {
      return act(sessionStorage);
    } catch {
      return null; // storage refused: the instant stays in the page
    }
  };
  let began = Number(kept((storage) => storage.getItem(KEPT))) || 0;

  const tick = () => {
    const seconds = began ? Math.max(0, Math.floor((Date.now() - began) / 1000)) : 0;
    face.textContent = `${Math.floor(seconds / 60)}:${two(seconds % 60)}`;
    face.hidden = !began;
  };
  const begin = () => {
    if (began) return;
    began = Date.now();
    kept((storage) => storage.setItem(KEPT, String(began)));
    tick();
  };
  const timer = setInterval(tick, 500);
  start.addEventListener("click", begin);
  start.disabled = false;
  document.getElementById("no-script").hidden = true;
  tick();

  // For app.js: the instant of a start so far, or 0; from then on the button is its own.
  self.takeFirstStart = () => {
    clearInterval(timer);
    start.removeEventListener("click", begin);
    face.hidden = true;
    return began;
  };
  self.firstStartKept = () => kept((storage) => storage.removeItem(KEPT));
})();
