// The clinics' screen: the choice with its reasons, how old the knowledge is, whom to ring and what to say.

import { chooseClinic, lineWords, noneWords, whyWords } from "./clinics.js";
import { button, h, heading, t, tel, weekdayClock } from "./dom.js";
import { immunoglobulinWanted, urgencyOf } from "./questions.js";

const KNOWN = ["immunised", "not-immunised", "immunocompromised", "unknown"];

export function clinicsScreen(app, record) {
  const screen = h("div", {});
  let position = record?.place || app.lastPlace;
  const draw = () => screen.replaceChildren(...parts());
  const parts = () => {
    const title = heading(1, t("clinics"));
    if (!app.card.field) return [title, h("p", { class: "note" }, t("no_card")), ...emergency(app)];
    return [title, askPosition(), ...answer(app, record, position, about.known || "unknown"), askRecord(), ...emergency(app)];
  };
  // The one thing that the choice needs and a phone doesn't know; never written down.
  const about = record || app;
  const askRecord = () => h("div", { role: "group", "aria-labelledby": "ask-record", class: "how" },
    h("p", { id: "ask-record" }, t("ask_record")),
    h("div", { class: "chips" }, KNOWN.map((code) => button(t(`known_${code}`), () => {
      about.known = code;
      draw();
      screen.querySelector(`[data-known=${code}]`).focus();
    }, "chip", { "aria-pressed": String((about.known || "unknown") === code), "data-known": code }))));
  const askPosition = () => {
    const state = h("p", { role: "status" }, position ? t("from_here") : t("distance_unknown"));
    const ask = () => app.locate().then((place) => {
      position = app.lastPlace = place;
      draw();
    }, () => (state.textContent = t("place_refused")));
    return h("div", {}, state, button(t("use_place"), ask, "quiet"));
  };
  draw();
  return screen;
}

function answer(app, record, position, known) {
  const { field } = app.card;
  const wanted = immunoglobulinWanted(record?.answers || {}, known);
  const choice = chooseClinic({ field, position, at: Date.now(), wanted });
  return [
    choice.chosen ? null : h("p", { class: "note", role: "alert" }, noneWords(choice)),
    h("p", { class: "quiet-text" }, t("card_from", { time: weekdayClock(field.fetched_at, field.zone) })),
    h("p", { class: "say" }, sayOnPhone(record)),
    h("ol", { class: "clinics" }, choice.order.map((one) => h("li", { class: "card" }, clinicParts(one, field, one === choice.chosen ? whyWords(choice, { position, known }) : [])))),
  ].filter(Boolean);
}

// What to say on the telephone, in one sentence.
function sayOnPhone(record) {
  const urgent = record ? urgencyOf(record.answers).map((code) => t(`urgent_${code}`)) : [];
  return urgent.length ? t("say_urgent", { facts: urgent.join(", ") }) : t("say_plain");
}

function clinicParts(one, field, why) {
  const { clinic } = one;
  const said = lineWords(one, field);
  const geo = typeof clinic.latitude === "number" ? `geo:${clinic.latitude},${clinic.longitude}` : null;
  return [
    h("h2", {}, why.length ? `${t("go_here")} ` : "", clinic.name),
    why.length ? h("ul", {}, why.map((sentence) => h("li", {}, sentence))) : null,
    h("p", {}, [said.door, said.distance, said.stock].join(" · ")),
    clinic.hours ? h("p", { class: "quiet-text" }, t("hours", { hours: clinic.hours })) : null,
    clinic.address ? h("p", {}, clinic.address) : null,
    h("p", { class: one.stale ? "note" : "quiet-text" }, said.asked),
    h("div", { class: "actions" }, clinic.phone ? tel(clinic.phone) : null, geo ? h("a", { class: "button quiet", href: geo }, t("map")) : null),
  ];
}

export function emergency(app) {
  const { field } = app.card;
  return [
    h("section", { class: "card" }, h("h2", {}, t("emergency")),
      field?.emergency_number ? tel(field.emergency_number) : h("p", {}, t("emergency_unknown")),
      field?.authority ? h("p", {}, field.authority) : null,
      h("p", { class: "caution" }, field?.caution || t("caution"))),
    h("div", { class: "actions" }, button(t("to_start"), () => app.show({ screen: "home" }), "quiet")),
  ];
}
