// Making elements and words. Text goes in as text, never as markup.

const page = JSON.parse(document.getElementById("phone-words").textContent);

export const words = page.words;
export const choices = page.choices;
export const seed = page.seed;
const language = document.documentElement.lang || "en";

// The words of a code with {names} filled in.
export function t(code, values = {}) {
  return words[code].replace(/\{(\w+)\}/g, (whole, name) => values[name] ?? whole);
}

export const label = (question, value) =>
  (choices[question] || []).find(([code]) => code === value)?.[1] ?? value;

// Whom a record is for, when it isn't who holds the phone.
export const forWhom = ({ person_name: name }) => (name ? t("for_person", { name }) : "");

const minutesFormat = new Intl.NumberFormat(language, { style: "unit", unit: "minute", unitDisplay: "long" });
export const minutes = (n) => minutesFormat.format(n);

export const clock = (instant, zone) =>
  new Intl.DateTimeFormat(language, { hour: "2-digit", minute: "2-digit", hourCycle: "h23", timeZone: zone }).format(instant);

export const weekdayClock = (instant, zone) =>
  new Intl.DateTimeFormat(language, { weekday: "short", hour: "2-digit", minute: "2-digit", hourCycle: "h23", timeZone: zone }).format(instant);

export function h(tag, properties = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(properties)) {
    if (value === null || value === undefined || value === false) continue;
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else element.setAttribute(name, value === true ? "" : value);
  }
  element.append(...children.flat().filter((child) => child !== null && child !== undefined && child !== false));
  return element;
}

export const button = (text, onclick, look = "", more = {}) =>
  h("button", { type: "button", class: `button ${look}`, onclick, ...more }, text);

// A question: its heading takes the focus, so that a screen reader begins there.
export const heading = (level, text) => h(`h${level}`, { tabindex: "-1", "data-focus": true }, text);

export function focusHeading(root) {
  const target = root.querySelector("[data-focus]");
  target?.focus({ preventScroll: true });
  target?.scrollIntoView({ block: "nearest" });
}

export const tel = (number) => h("a", { class: "button quiet", href: `tel:${number.replace(/[^+\d*#]/g, "")}` }, `☎ ${number}`);

let said = "";
export function announce(text) {
  if (text === said) return;
  said = text;
  document.getElementById("announce").textContent = text;
}
