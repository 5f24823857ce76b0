// The wash clock. It computes from the instant of the start, so a locked screen or a slow tick costs nothing.
// Without this script the page still states when the clock started and has a button that stops it.
"use strict";

(() => {
  const KEPT = "wash-clock";
  // Not longer: on a shared phone an old clock must not pass for the washing of somebody bitten later.
  const KEPT_FOR = 20 * 60 * 1000;
  const two = (n) => String(n).padStart(2, "0");
  const face = (seconds) => `${Math.floor(seconds / 60)}:${two(seconds % 60)}`;

  // Shows the time gone and the time left, and says it aloud once a minute.
  function show(box, seconds, target) {
    const left = Math.max(0, target - seconds);
    box.querySelector("[data-elapsed]").textContent = face(seconds);
    box.querySelector("[data-left]").textContent = left ? `−${face(left)}` : "✓";
    const minute = Math.floor(seconds / 60);
    if (box.dataset.told === String(minute)) return;
    box.dataset.told = String(minute);
    box.querySelector("[data-announce]").textContent = left
      ? box.dataset.words.replace("{washed}", minute).replace("{left}", Math.ceil(left / 60))
      : box.dataset.reached;
  }

  // A case whose clock runs on the server: what was washed when the page was made, and what has passed since.
  function runCaseClock(box) {
    const washed = Number(box.dataset.washedSeconds);
    const target = Number(box.dataset.targetSeconds);
    const loaded = Date.now();
    const tick = () => show(box, washed + Math.floor((Date.now() - loaded) / 1000), target);
    box.querySelector("[data-show]").hidden = false;
    tick();
    setInterval(tick, 500);
  }

  // The report: instants go into hidden fields by the server's clock, since a phone's own may be wrong.
  function runReportClock(box) {
    const form = document.getElementById("report");
    const started = form.elements.wash_started_at;
    const stopped = form.elements.wash_stopped_at;
    // What the phone's page loses when it is opened anew; kept in this tab alone, until the report has arrived.
    const keep = () => sessionStorage.setItem(KEPT, JSON.stringify([started.value, stopped.value]));
    const restore = () => {
      const [from, until] = JSON.parse(sessionStorage.getItem(KEPT) || '["", ""]');
      if (started.value || !(nowByServer() - Date.parse(from) < KEPT_FOR)) return;
      [started.value, stopped.value] = [from, until];
    };
    const [start, stop] = [box.querySelector("[data-start]"), box.querySelector("[data-stop]")];
    const minutes = form.querySelector("[data-minutes]");
    const skew = Date.parse(box.dataset.now) - Date.now();
    const target = Number(box.dataset.targetMinutes) * 60;
    const nowByServer = () => Date.now() + skew;
    const [origin, other] = [box.querySelector("[data-origin]"), box.querySelector("[data-other]")];
    // As the phone shows its time, whether that is right or wrong: it is what people around it can compare with.
    const began = (instant) => {
      const at = new Date(Date.parse(instant) - skew);
      return `${two(at.getHours())}:${two(at.getMinutes())}`;
    };
    let putAside = null;
    let timer = 0;

    const tick = () => {
      const until = stopped.value ? Date.parse(stopped.value) : nowByServer();
      show(box, Math.max(0, Math.floor((until - Date.parse(started.value)) / 1000)), target);
    };
    const follow = () => {
      const running = Boolean(started.value) && !stopped.value;
      start.hidden = Boolean(started.value);
      stop.hidden = !running;
      minutes.hidden = Boolean(started.value);
      const since = started.value || putAside?.[0];
      other.hidden = !since;
      other.textContent = (started.value ? box.dataset.anew : box.dataset.back).replace("{time}", since && began(since));
      origin.textContent = started.value ? box.dataset.since.replace("{time}", began(since)) : "";
      if (started.value) {
        form.elements.washed_minutes.value = "";
        tick();
      }
      clearInterval(timer);
      timer = running ? setInterval(tick, 500) : 0;
    };
    start.addEventListener("click", () => {
      putAside = null;
      started.value = new Date(nowByServer()).toISOString();
      keep();
      follow();
      stop.focus();
    });
    stop.addEventListener("click", () => {
      // Stop appears where Start was: the second tap of a double tap must not end the washing.
      if (nowByServer() - Date.parse(started.value) < 1500) return;
      stopped.value = new Date(nowByServer()).toISOString();
      keep();
      follow();
      box.querySelector("[data-announce]").textContent = box.dataset.stopped;
      box.querySelector("[data-note]").textContent = box.dataset.stopped;
    });
    // A shared phone: the clock that runs may be of somebody bitten earlier. A wrong tap can be taken back.
    other.addEventListener("click", () => {
      const before = [started.value, stopped.value];
      [started.value, stopped.value] = putAside || ["", ""];
      putAside = putAside ? null : before;
      keep();
      box.querySelector("[data-note]").textContent = "";
      box.querySelector("[data-elapsed]").textContent = face(0);
      box.querySelector("[data-left]").textContent = "";
      box.dataset.told = "";
      follow();
      (putAside ? start : other).focus();
    });
    // Nobody signed in yet, so the server knows no zone: the phone's own calendar and clock are a fair start.
    const [day, clock, here] = [form.elements.day, form.elements.clock, new Date()];
    if (!day.value && !clock.value) {
      day.value = `${here.getFullYear()}-${two(here.getMonth() + 1)}-${two(here.getDate())}`;
      clock.value = `${two(here.getHours())}:${two(here.getMinutes())}`;
    }
    box.hidden = false;
    restore();
    follow();
  }

  // Dates that are being computed: look again for a minute, and open the page anew once they are there.
  function awaitPlan(turn) {
    if (turn > 30) return;
    setTimeout(async () => {
      let text = "data-await-plan";
      try {
        const answer = await fetch(location.href, { credentials: "same-origin" });
        if (answer.ok) text = await answer.text();
      } catch {
        // No network just now: the link "Look again" stays, and the next turn asks again.
      }
      if (text.includes("data-await-plan")) awaitPlan(turn + 1);
      else location.reload();
    }, 2000);
  }

  if (!document.querySelector("[data-wash-report]")) sessionStorage.removeItem(KEPT);
  document.querySelectorAll("[data-wash-clock]").forEach(runCaseClock);
  document.querySelectorAll("[data-wash-report]").forEach(runReportClock);
  if (document.querySelector("[data-await-plan]")) awaitPlan(1);
})();
