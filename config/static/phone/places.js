// The clinics' screen: the choice with its reasons, how old the knowledge is, whom to ring and what to say.

import { chooseClinic } from "./clinics.js";
import { button, h, heading, t, tel, weekdayClock } from "./dom.js";
import { urgencyOf, wantsClinic } from "./questions.js";

const DAYS_MS = 2 * 24 * 3600 * 1000;
const dateIn = (instant, zone) => new Intl.DateTimeFormat("en-CA", { timeZone: zone, dateStyle: "short" }).format(instant);

export function clinicsScreen(app, record) {
  const screen = h("div", {});
  let position = record?.place || app.lastPlace;
  const draw = () => screen.replaceChildren(...parts());
  const parts = () => {
    const title = heading(1, t("clinics"));
    if (!app.card.field) return [title, h("p", { class: "note" }, t("no_card")), ...emergency(app)];
    return [title, askPosition(), ...answer(app, record, position), ...emergency(app)];
  };
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

function answer(app, record, position) {
  const { field } = app.card;
  const now = Date.now();
  const wanted = !record || wantsClinic(record.answers);
  const choice = chooseClinic({ clinics: field.clinics, position, at: now, kmh: field.travel_kmh, wanted, today: dateIn(now, field.zone), openUntil: field.open_until });
  const none = choice.chosen ? [] : [h("p", { class: "note", role: "alert" }, t("no_clinic"))];
  const noGlobulin = wanted && choice.order.length && choice.order.every((one) => one.lacksImmunoglobulin);
  return [
    ...none,
    noGlobulin ? h("p", { class: "note" }, t("no_immunoglobulin")) : null,
    h("p", { class: "quiet-text" }, t("card_from", { time: weekdayClock(field.fetched_at, field.zone) })),
    h("p", { class: "say" }, sayOnPhone(record)),
    h("ol", { class: "clinics" }, choice.order.map((one) => h("li", { class: "card" }, clinicParts(one, field, one === choice.chosen)))),
  ].filter(Boolean);
}

// What to say on the telephone, in one sentence.
function sayOnPhone(record) {
  const urgent = record ? urgencyOf(record.answers).map((code) => t(`urgent_${code}`)) : [];
  return urgent.length ? t("say_urgent", { facts: urgent.join(", ") }) : t("say_plain");
}

function clinicParts(one, field, chosen) {
  const { clinic } = one;
  const geo = typeof clinic.latitude === "number" ? `geo:${clinic.latitude},${clinic.longitude}` : null;
  return [
    h("h2", {}, chosen ? `${t("go_here")} ` : "", clinic.name),
    h("p", {}, facts(one, field).join(" · ")),
    clinic.address ? h("p", {}, clinic.address) : null,
    h("p", { class: one.stale ? "note" : "quiet-text" }, one.days === null ? t("never_asked") : t("asked", { days: one.days })),
    h("div", { class: "actions" }, clinic.phone ? tel(clinic.phone) : null, geo ? h("a", { class: "button quiet", href: geo }, t("map")) : null),
  ];
}

function facts(one, { zone }) {
  const door = {
    // A weekday further off than a day or two would be read as the coming one.
    open: () => (one.closesAt - one.arrival > DAYS_MS ? t("open_long") : t("open_on_arrival", { time: weekdayClock(one.closesAt, zone) })),
    closed: () => (one.opensAt ? t("closed_until", { time: weekdayClock(one.opensAt, zone) }) : t("closed")),
    "hours-unknown": () => t("hours_unknown"),
  }[one.door]();
  return [
    door,
    one.metres === null ? null : t("distance", { km: (one.metres / 1000).toFixed(1) }),
    t(`vaccine_${one.clinic.vaccine}`),
    t(`immunoglobulin_${one.clinic.immunoglobulin}`),
    one.clinic.hours ? t("hours", { hours: one.clinic.hours }) : null,
  ].filter(Boolean);
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
