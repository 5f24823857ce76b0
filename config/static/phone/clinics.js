// Which clinic to go to and why, without network, from the field card that was kept. The service chooses by the same
// rule (safety/rules/clinic/clinic_choice.py) and says it by the same recipe (safety/pages/clinic/clinic_choice.py): random tables
// hold both to one answer.

import { t } from "./dom.js";

const RADIUS_M = 6371008.8;
const MINUTE_MS = 60000;
const DAY_MS = 1440 * MINUTE_MS;
// The figures a site starts with: a card kept since before cards brought the site's own lacks them.
const FIGURES = { clinic_news_days: 7, clinic_of_day_minutes: 10, immunoglobulin_minutes: 30 };
const figure = (field, name) => field[name] ?? FIGURES[name];

const radians = (degrees) => (degrees * Math.PI) / 180;

// Whole metres on the sphere.
export function metresBetween(a, b) {
  const [north, east] = [radians(b.latitude - a.latitude), radians(b.longitude - a.longitude)];
  const spread = Math.cos(radians(a.latitude)) * Math.cos(radians(b.latitude));
  const h = Math.sin(north / 2) ** 2 + spread * Math.sin(east / 2) ** 2;
  return Math.floor(2 * RADIUS_M * Math.asin(Math.min(1, Math.sqrt(h))) + 0.5);
}

const placed = (at) => at && typeof at.latitude === "number" && typeof at.longitude === "number";

// The site's wall clock at an instant, as a Date to be read in UTC.
export function wall(at, { zone, offsets }) {
  if (!offsets) {
    // A card kept since before cards brought the site's clocks along.
    const shown = new Intl.DateTimeFormat("sv-SE", { timeZone: zone, dateStyle: "short", timeStyle: "medium" }).format(at);
    return new Date(`${shown.replace(" ", "T")}Z`);
  }
  const known = offsets.filter(([from]) => Date.parse(from) <= at);
  return new Date(at + (known.at(-1) || offsets[0])[1] * MINUTE_MS);
}

export const dayOf = (at, field) => wall(at, field).toISOString().slice(0, 10);

// Whole days since the stock was asked after, or null; `today` is the site's date as text.
const daysSince = (confirmedOn, today) =>
  confirmedOn ? Math.round((Date.parse(today) - Date.parse(confirmedOn)) / DAY_MS) : null;

// An old yes is unknown; an old no stays a no.
const reliedOn = (said, stale) => (said === "yes" && stale ? "unknown" : said);

function judge(clinic, { field, position, at, wanted }) {
  const metres = placed(position) && placed(clinic) ? metresBetween(position, clinic) : null;
  const arrival = at + Math.ceil(((metres || 0) * 36) / (10 * field.travel_kmh)) * 1000;
  // A card lies on the phone longer than its open times reach.
  const open = arrival < Date.parse(field.open_until) ? clinic.open : null;
  const spans = (open || []).map((span) => span.map(Date.parse));
  const inside = spans.filter(([opens, closes]) => opens <= arrival && arrival < closes);
  const later = spans.map(([opens]) => opens).filter((opens) => opens > arrival);
  const days = daysSince(clinic.confirmed_on, dayOf(at, field));
  const stale = days === null || days > figure(field, "clinic_news_days");
  const immunoglobulin = reliedOn(clinic.immunoglobulin, stale);
  return {
    clinic, metres, arrival, days, stale, immunoglobulin,
    vaccine: reliedOn(clinic.vaccine, stale),
    door: !open ? "hours-unknown" : inside.length ? "open" : "closed",
    closesAt: inside.length ? Math.max(...inside.map(([, closes]) => closes)) : null,
    opensAt: !inside.length && later.length ? Math.min(...later) : null,
    lacks: wanted && immunoglobulin !== "yes",
  };
}

function group({ vaccine, door }) {
  if (vaccine === "no") return 4;
  if (door === "open") return vaccine === "yes" ? 0 : 1;
  return door === "hours-unknown" ? 2 : 3;
}

const rank = (one) => [group(one), one.metres ?? Infinity, one.clinic.name, one.clinic.id];

function before(a, b) {
  const [left, right] = [rank(a), rank(b)];
  const at = left.findIndex((value, place) => value !== right[place]);
  return at < 0 ? 0 : left[at] < right[at] ? -1 : 1;
}

// How much more travel in milliseconds; none where neither distance is known, null where one of them isn't.
function farther(nearest, one) {
  if (nearest.metres === null || one.metres === null) return nearest.metres === one.metres ? 0 : null;
  return one.arrival - nearest.arrival;
}

// {chosen, order, first, farther, elsewhere}: `chosen` is null when none is known to be open with vaccine.
// `field` is the card, `at` epoch milliseconds, `position` {latitude, longitude} or null, `wanted` whether
// immunoglobulin would be.
export function chooseClinic(circumstances) {
  const { field, at, wanted } = circumstances;
  let order = field.clinics.map((clinic) => judge(clinic, circumstances)).sort(before);
  const [nearest] = order;
  if (!nearest || group(nearest) > 1) return { chosen: null, order, wanted };
  const choice = { chosen: nearest, first: "nearest", farther: 0, wanted, elsewhere: null };
  const move = (first, within, fits) => {
    const one = order.find((other) => {
      const more = farther(nearest, other);
      return fits(other) && group(other) === group(choice.chosen) && more !== null && more <= within;
    });
    if (!one) return;
    order = [one, ...order.filter((other) => other !== one)];
    Object.assign(choice, { chosen: one, first, farther: farther(nearest, one) });
  };
  const ofTheDay = field.day === dayOf(at, field) ? field.clinic_of_the_day : null;
  move("of-the-day", figure(field, "clinic_of_day_minutes") * MINUTE_MS, ({ clinic }) => clinic.id === ofTheDay);
  if (choice.chosen.lacks) {
    const has = ({ immunoglobulin }) => immunoglobulin === "yes";
    move("immunoglobulin", figure(field, "immunoglobulin_minutes") * MINUTE_MS, has);
    if (choice.chosen.lacks) choice.elsewhere = order.find(has) || null;
  }
  return { ...choice, order };
}

// The reasons for the chosen one, one sentence each.
export function whyWords(choice, { position, known }) {
  const { chosen: one, first, wanted, elsewhere } = choice;
  if (!one) return [];
  const unknown = one.metres === null;
  const moved = first === "immunoglobulin" && !unknown;
  return [
    first === "of-the-day" ? t("why_of_the_day")
      : unknown ? t(position ? "why_unplaced" : "why_no_place")
        : moved ? t("why_immunoglobulin", { minutes: Math.ceil(choice.farther / MINUTE_MS) }) : t("why_nearest"),
    one.vaccine === "unknown" && t("why_vaccine_unknown"),
    wanted && !one.lacks && !moved && t("why_has_immunoglobulin"),
    one.lacks && (elsewhere ? t("why_immunoglobulin_elsewhere", { name: elsewhere.clinic.name }) : t("why_immunoglobulin_nowhere")),
    wanted && known === "unknown" && t("why_record_unknown"),
    one.stale && t("why_stale"),
  ].filter(Boolean);
}

export const noneWords = ({ order }) => t(order.length ? "no_clinic" : "no_clinics");

// The time of day at the site, with the day where it isn't that of `from`.
function when(instant, from, field) {
  const local = wall(instant, field);
  const clock = local.toISOString().slice(11, 16);
  if (dayOf(instant, field) === dayOf(from, field)) return clock;
  const weekday = t("weekdays").split("|")[(local.getUTCDay() + 6) % 7];
  return t("day_clock", { weekday, day: local.getUTCDate(), month: t("months").split("|")[local.getUTCMonth()], clock });
}

function doorWords({ door, closesAt, opensAt, arrival }, field) {
  if (door === "hours-unknown") return t("hours_unknown");
  if (door === "closed") return opensAt ? t("closed_until", { time: when(opensAt, arrival, field) }) : t("closed");
  return closesAt - arrival >= DAY_MS ? t("open_long") : t("open_on_arrival", { time: when(closesAt, arrival, field) });
}

// What is said of one clinic: door, distance, stock, and how old that is.
export function lineWords(one, field) {
  const { metres, days, clinic } = one;
  const stock = (name) => t(`${name}_${one[name] === clinic[name] ? clinic[name] : "old"}`);
  return {
    door: doorWords(one, field),
    distance: metres === null ? t("distance_not_known") : metres < 1000 ? t("distance_near") : t("distance", { km: Math.floor((metres + 500) / 1000) }),
    stock: `${stock("vaccine")}; ${stock("immunoglobulin")}`,
    asked: days === null ? t("never_asked") : days > 1 ? t("asked", { days }) : t(days === 1 ? "asked_yesterday" : "asked_today"),
  };
}
