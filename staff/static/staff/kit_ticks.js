// Ticks that wait on the phone: one key for each crew and account, in it the last word about each item.
"use strict";

export const keyOf = (crew, whose) => `kit-ticks-${crew}-${whose}`;
export const read = (key) => {
  try {
    return JSON.parse(localStorage.getItem(key)) || {};
  } catch {
    return {};
  }
};
export const write = (key, ticks) => {
  if (Object.keys(ticks).length) localStorage.setItem(key, JSON.stringify(ticks));
  else localStorage.removeItem(key);
};
export const waiting = () =>
  Object.keys(localStorage)
    .map((key) => [key, /^kit-ticks-(\d+)-(\d+)$/.exec(key)])
    .filter(([, found]) => found)
    .flatMap(([key, [, crew, whose]]) =>
      Object.entries(read(key)).map(([item, tick]) => ({ key, crew, whose, item, ...tick })),
    );
// Only what was sent goes; a newer word about the same item that came meanwhile stays.
export const forget = (tick) => {
  const ticks = read(tick.key);
  if (ticks[tick.item]?.at === tick.at) delete ticks[tick.item];
  write(tick.key, ticks);
};
