// Which clinic to go to, without network, from the field card that was kept. The service chooses by the same rule
// (safety/rules/clinic_choice.py); one table of cases holds both.

// The earth's mean radius in metres (IUGG): within 0.6 % of the geodesic on WGS 84, which is finer than the roads are.
const RADIUS_M = 6371008.8;
const STALE_DAYS = 7;
const DAY_MS = 24 * 3600 * 1000;

const radians = (degrees) => (degrees * Math.PI) / 180;

export function metresBetween(a, b) {
  const [north, east] = [radians(b.latitude - a.latitude), radians(b.longitude - a.longitude)];
  const spread = Math.cos(radians(a.latitude)) * Math.cos(radians(b.latitude));
  const h = Math.sin(north / 2) ** 2 + spread * Math.sin(east / 2) ** 2;
  return 2 * RADIUS_M * Math.asin(Math.min(1, Math.sqrt(h)));
}

const placed = (at) => at && typeof at.latitude === "number" && typeof at.longitude === "number";

// Whole days since the stock was asked after, or null; `today` is the site's date as text.
function daysSince(confirmedOn, today) {
  return confirmedOn ? Math.round((Date.parse(today) - Date.parse(confirmedOn)) / DAY_MS) : null;
}

function judge(clinic, { position, at, kmh, wanted, today, openUntil }) {
  const metres = placed(position) && placed(clinic) ? metresBetween(position, clinic) : null;
  const arrival = at + ((metres || 0) / 1000 / kmh) * 3600 * 1000;
  // A card lies on the phone longer than its open times reach.
  const open = arrival < Date.parse(openUntil) ? clinic.open : null;
  const spans = (open || []).map(([opens, closes]) => [Date.parse(opens), Date.parse(closes)]);
  const inside = spans.filter(([opens, closes]) => opens <= arrival && arrival < closes);
  const later = spans.map(([opens]) => opens).filter((opens) => opens > arrival);
  const days = daysSince(clinic.confirmed_on, today);
  return {
    clinic, metres, arrival, days,
    door: !open ? "hours-unknown" : inside.length ? "open" : "closed",
    closesAt: inside.length ? Math.max(...inside.map(([, closes]) => closes)) : null,
    opensAt: !inside.length && later.length ? Math.min(...later) : null,
    lacksImmunoglobulin: wanted && clinic.immunoglobulin !== "yes",
    stale: days === null || days > STALE_DAYS,
  };
}

function group(one) {
  if (one.clinic.vaccine === "no") return 4;
  if (one.door === "open") return one.clinic.vaccine === "yes" ? 0 : 1;
  return one.door === "hours-unknown" ? 2 : 3;
}

const rank = (one) => [
  group(one), one.lacksImmunoglobulin ? 1 : 0, one.metres ?? Infinity, one.clinic.name, one.clinic.id,
];

function before(a, b) {
  const [left, right] = [rank(a), rank(b)];
  const at = left.findIndex((value, place) => value !== right[place]);
  return at < 0 ? 0 : left[at] < right[at] ? -1 : 1;
}

// {chosen, order}: `chosen` is the first of the order if it is open on arrival and vaccine isn't ruled out, else null.
// `at` is epoch milliseconds, `position` {latitude, longitude} or null, `wanted` whether immunoglobulin would be,
// `openUntil` how far the open times reach.
export function chooseClinic({ clinics, ...circumstances }) {
  const order = clinics.map((clinic) => judge(clinic, circumstances)).sort(before);
  const first = order[0];
  const qualifies = first && first.door === "open" && first.clinic.vaccine !== "no";
  return { chosen: qualifies ? first : null, order };
}
