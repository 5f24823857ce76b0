// The screen of one incident: the wash clock on top, what comes next, and one question at a time below.

import { face, reading, running, washedMs } from "./clock.js";
import { announce, button, clock, forWhom, h, label, minutes, t } from "./dom.js";
import { questionCard } from "./ask.js";
import { TAKE_BACK_MS } from "./records.js";

const FORGOTTEN_MS = 60 * 60000;
const DOUBLE_TAP_MS = 1500;
const HOW = [["with_soap", "yes", "yes"], ["water_only", "no", "yes"], ["soap_only", "yes", "no"], ["neither", "no", "no"]];

export function incidentScreen(app, record) {
  const screen = h("div", { class: "incident" });
  const draw = () => screen.replaceChildren(...fullLine(app), clockCard(app, record, draw), ...lendCard(app, record), questionCard(app, record), nextSteps(app));
  draw();
  return screen;
}

// What the phone couldn't write is in this page alone.
const fullLine = (app) => (app.store.full ? [h("p", { class: "note", role: "alert" }, t("store_full"))] : []);

function clockCard(app, record, draw) {
  const runs = running(record.spells);
  const card = h("section", { class: "card clock", "aria-labelledby": "clock-title" });
  const parts = [
    h("h1", { id: "clock-title" }, record.spells.length ? t("wash_now", { minutes: minutes(app.target) }) : t("no_clock")),
    clockFace(app, record),
    h("p", { class: "origin" }, origin(app, record)),
    h("div", { class: "actions" }, runs ? stopButton(app, record, card, draw) : startButton(app, record, draw), takeBackButton(app, record)),
    runs && Date.now() - runs.started_at > FORGOTTEN_MS ? forgotten(app, record, runs, draw) : null,
    record.spells.length ? howGroup(app, record, draw) : null,
    record.spells.length && !runs ? antisepticGroup(app, record, draw) : null,
  ];
  card.append(...parts.filter(Boolean));
  return card;
}

// A card that came later may be somebody else's, so it isn't taken without asking.
function lendCard(app, record) {
  if (record.link || record.sent || !app.canKeep || !app.card.link) return [];
  const lend = async () => {
    card.remove();
    await app.records.lend(record, app.card.link);
  };
  const card = h("section", { class: "card" }, h("p", { class: "note" }, t("lend_ask", { name: app.card.name })), button(t("lend"), lend));
  return [card];
}

function origin(app, record) {
  const since = record.spells.length ? t("since", { time: clock(record.spells[0].started_at, app.card.zone) }) : "";
  return `${since} ${forWhom(record)}`.trim();
}

function clockFace(app, record) {
  const shown = h("p", { class: "face" }, h("span", { "data-washed": true }), h("span", { class: "left", "data-left": true }));
  const bar = h("progress", { max: app.target * 60, value: 0, "aria-label": t("washed_so_far") });
  const box = h("div", { "data-clock": record.about, hidden: !record.spells.length }, shown, bar);
  tick(app, record, box);
  return box;
}

// Called twice a second; says the time aloud once a minute.
export function tick(app, record, box = document.querySelector(`[data-clock="${record.about}"]`)) {
  if (!box || !record.spells.length) return;
  const { washed, left, done } = reading(record.spells, Date.now(), app.target);
  box.querySelector("[data-washed]").textContent = face(washed);
  box.querySelector("[data-left]").textContent = done ? `✓ ${t("reached")}` : t("to_go", { left: face(left) });
  box.querySelector("progress").value = washed;
  const undo = document.querySelector("[data-take-back]");
  if (undo && Date.now() - record.begun_at >= TAKE_BACK_MS) undo.remove();
  if (!running(record.spells)) return;
  const spoken = { washed: minutes(Math.floor(washed / 60)), left: minutes(Math.ceil(left / 60)) };
  announce(done ? t("say_reached") : t("say_minute", spoken));
  if (done && !record.buzzed) {
    record.buzzed = true;
    navigator.vibrate?.([400, 200, 400]);
  }
}

function startButton(app, record, draw) {
  const again = record.spells.length > 0;
  return button(t(again ? "wash_on" : "start"), async () => {
    await app.records.startSpell(record);
    app.wakeful();
    draw();
  }, again ? "" : "big");
}

function stopButton(app, record, card, draw) {
  const stop = async () => {
    await app.records.stopSpell(record);
    draw();
    announce(t("stopped"));
  };
  return button(t("stop"), () => {
    // The second tap of a double tap must not end the washing.
    if (Date.now() - running(record.spells).started_at < DOUBLE_TAP_MS) return;
    const { done } = reading(record.spells, Date.now(), app.target);
    if (done) stop();
    else askOn(app, record, card, stop);
  }, "quiet", { "data-stop": true });
}

function askOn(app, record, card, stop) {
  card.querySelector(".ask-on")?.remove();
  const { washed, left } = reading(record.spells, Date.now(), app.target);
  const panel = h("div", { class: "ask-on", role: "group", "aria-labelledby": "ask-on" });
  panel.append(
    h("p", { id: "ask-on", tabindex: "-1" }, t("stop_early", { washed: face(washed), left: face(left) })),
    h("div", { class: "actions" }, button(t("go_on"), () => panel.remove()), button(t("stop_anyway"), stop, "quiet")),
  );
  card.querySelector(".actions").after(panel);
  panel.querySelector("p").focus();
}

// A phone left running proves nothing: whoever comes back says how long it was.
function forgotten(app, record, spell, draw) {
  const about = (n) => button(minutes(n), async () => {
    await app.records.wash(record, record.spells.map((one) => (one === spell ? { ...one, stopped_at: one.started_at + n * 60000 } : one)));
    draw();
  }, "quiet");
  const hours = minutes(Math.floor(washedMs(record.spells, Date.now()) / 60000));
  return h("div", { class: "ask-on" }, h("p", {}, t("ran_on", { time: hours })), h("div", { class: "actions" }, [5, 10, 15].map(about)));
}

function takeBackButton(app, record) {
  if (!record.spells.length || record.sent || Date.now() - record.begun_at >= TAKE_BACK_MS) return null;
  return button(t("take_back"), async () => {
    if (await app.records.takeBack(record)) app.show({ screen: "home", note: "taken_back" });
    else app.note("too_late");
  }, "quiet", { "data-take-back": true });
}

function group(name, options) {
  const id = `group-${name}`;
  return h("div", { role: "group", "aria-labelledby": id, class: "how" }, h("p", { id }, t(name)), h("div", { class: "chips" }, options));
}

function chip(text, pressed, act) {
  return button(text, act, "chip", { "aria-pressed": String(pressed) });
}

function howGroup(app, record, draw) {
  const last = record.spells.at(-1);
  return group("how_washed", HOW.map(([word, soap, water]) =>
    chip(t(word), last.soap === soap && last.running_water === water, async () => {
      await app.records.how(record, soap, water);
      draw();
    })));
}

function antisepticGroup(app, record, draw) {
  return group("antiseptic", ["yes", "no", "unknown"].map((value) =>
    chip(label("answer", value), record.antiseptic === value, async () => {
      await app.records.wash(record, record.spells, value);
      draw();
    })));
}

function nextSteps(app) {
  return h("section", { class: "card" },
    h("h2", {}, t("next_title")),
    h("ol", {}, ["next_1", "next_2", "next_3", "next_4"].map((code) => h("li", {}, t(code)))),
    button(t("clinics"), () => app.show({ screen: "clinics", about: app.place.about }), "quiet"));
}
