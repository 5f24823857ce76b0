// Ticking the kit with and without network. Without this script each row is a plain form.
// A tick lies in the phone's storage, under its crew and account, until the service itself has answered it.
"use strict";

import { forget, keyOf, read, waiting, write } from "./kit_ticks.js";

const COPIES = "kit-pages";
const KEPT_MS = 7 * 24 * 60 * 60 * 1000;
const EVERY_MS = 30_000;

const box = document.getElementById("kit");
const said = box.dataset;
const status = box.querySelector("[data-status]");
const path = location.pathname;
let { account } = said;
let token = "";
// The page may come from the phone's copy: its account and its token count only after the service was asked.
let stale = true;
let signedOut = false;
let aged = false;
let gone = false;
let busy = false;
let again = false;

const mine = () => waiting().filter((tick) => tick.whose === account);

// ---- what is shown

const rowOf = (crew, item, where = document) => where.querySelector(`[data-row="${crew} ${item}"]`);
const shownThere = (row) => row.querySelector(".tick")?.getAttribute("aria-pressed") === "true";

function drawState(state, done, words) {
  state.className = `state ${done ? "clear" : "wait"}`;
  const mark = document.createElement("span");
  mark.className = "mark";
  mark.setAttribute("aria-hidden", "true");
  mark.textContent = done ? "✓" : "…";
  state.replaceChildren(mark, ` ${words}`);
}

function drawRow(row, there, unsent) {
  row.querySelector(".tick").setAttribute("aria-pressed", String(there));
  row.querySelector("[name=there]").value = there ? "" : "yes";
  row.querySelector(".paper-box").textContent = there ? "✓" : "";
  const words = there ? said.there : said.open;
  drawState(row.querySelector("[data-state] > .state"), there && !unsent, unsent ? `${words}, ${said.unsent}` : words);
  // Complete is what the service knows to be there; a tick that waits on this phone nobody else has seen.
  const list = row.closest("section");
  const number = list.querySelectorAll("[data-state] > .state.wait").length;
  const summary = number ? said.lacking.replace("{number}", number) : said.complete;
  drawState(list.querySelector("[data-summary] > .state"), !number, summary);
}

function drawWaiting() {
  for (const tick of mine()) {
    const row = rowOf(tick.crew, tick.item);
    if (row?.querySelector(".tick")) drawRow(row, tick.there, true);
  }
}

const hourOf = (instant) =>
  new Date(instant).toLocaleString(document.documentElement.lang, { dateStyle: "medium", timeStyle: "short" });

function tell() {
  const all = waiting();
  const own = all.filter((tick) => tick.whose === account).length;
  const words = [];
  if (own) words.push((signedOut ? said.signin : said.waiting).replace("{number}", own));
  if (all.length > own) words.push(said.other.replace("{number}", all.length - own));
  if (gone) words.push(said.gone);
  if (aged) words.push(said.aged.replace("{time}", hourOf(said.made)));
  if (!words.length && status.dataset.told) words.push(said.arrived);
  if (own) status.dataset.told = "yes";
  const text = words.join(" ");
  if (status.textContent !== text) status.textContent = text;
  status.hidden = !text;
  status.classList.toggle("warning", Boolean(all.length) || aged || gone);
}

function warn(words, tick) {
  const line = document.createElement("p");
  line.className = "message warning";
  const name = rowOf(tick.crew, tick.item)?.querySelector("[data-name]").textContent || tick.item;
  line.textContent = words.replace("{item}", name);
  box.querySelector("[data-refusals]").append(line);
}

// ---- asking the service

// The list as the service has it: account, token and ticks of now, and the copy for when there is no network.
async function refresh() {
  const response = await fetch(`${path}?copy`, { credentials: "same-origin", cache: "no-store", redirect: "manual" });
  signedOut = response.type === "opaqueredirect";
  gone = response.status === 403 || response.status === 404;
  if (gone) await forgetCopy();
  if (!response.ok) return false;
  const text = await response.text();
  const fresh = new DOMParser().parseFromString(text, "text/html").getElementById("kit");
  // A network's own sign-in page answers too.
  if (fresh?.dataset.outing !== said.outing) return false;
  account = fresh.dataset.account;
  said.made = fresh.dataset.made;
  token = fresh.querySelector("[name=csrfmiddlewaretoken]").value;
  box.querySelectorAll("[data-row]").forEach((row) => take(row, fresh));
  stale = false;
  // A full phone keeps no copy, and ticks go all the same.
  await keepCopy(response.headers, text).catch(() => {});
  return true;
}

function take(row, fresh) {
  const [crew, item] = row.dataset.row.split(" ");
  const now = rowOf(crew, item, fresh);
  const form = row.querySelector("form");
  if (!form || !now) return;
  form.hidden = !now.querySelector(".tick");
  form.elements.account.value = account;
  form.elements.csrfmiddlewaretoken.value = token;
  const unsent = read(keyOf(crew, account))[item];
  drawRow(row, unsent ? unsent.there : Boolean(now.querySelector("[data-state] .clear")), Boolean(unsent));
}

async function forgetCopy() {
  await (await globalThis.caches?.open(COPIES))?.delete(path);
}

async function keepCopy(from, text) {
  if (!globalThis.caches || !said.files) return;
  const headers = new Headers(from);
  headers.delete("Content-Encoding");
  headers.delete("Content-Length");
  headers.set("X-Kept-At", new Date().toISOString());
  const cache = await caches.open(COPIES);
  await cache.put(path, new Response(text, { headers }));
  await cache.addAll(said.files.split(" "));
  for (const request of await cache.keys()) {
    const kept = (await cache.match(request))?.headers.get("X-Kept-At");
    if (kept && Date.now() - Date.parse(kept) > KEPT_MS) await cache.delete(request);
  }
}

// True when the service itself answered, whatever it said.
async function send(tick) {
  const body = new URLSearchParams({
    crew: tick.crew,
    item: tick.item,
    there: tick.there ? "yes" : "",
    ticked_at: tick.at,
    account: tick.whose,
  });
  const headers = { Accept: "application/json", "X-CSRFToken": token };
  const response = await fetch(tick.to, { method: "POST", body, headers, credentials: "same-origin", redirect: "manual" });
  signedOut = response.type === "opaqueredirect";
  const answer = await response.json().catch(() => null);
  if (response.ok && answer?.item === tick.item) return settle(tick, answer);
  // Under another account it would be somebody else's word, and what crossed is taken when it is sent again: it stays.
  if (!answer?.code || !answer.message || ["other-account", "changes-crossed"].includes(answer.code)) return false;
  forget(tick);
  warn(said.refused.replace("{why}", () => answer.message), tick);
  stale = true;
  return true;
}

function settle(tick, answer) {
  forget(tick);
  const row = rowOf(tick.crew, tick.item);
  const newer = read(tick.key)[tick.item];
  if (row?.querySelector(".tick") && !newer) drawRow(row, answer.there, false);
  if (answer.there !== tick.there) warn(said.later, tick);
  return true;
}

async function round() {
  if (stale) {
    const fresh = await refresh();
    aged = !fresh && !signedOut && !gone;
    if (!fresh) return;
  }
  for (const tick of mine()) {
    if (!(await send(tick))) {
      stale = true;
      return;
    }
  }
  // A refusal left a row drawn as it isn't.
  if (stale) await refresh();
}

async function deliver() {
  again = busy;
  if (busy) return;
  busy = true;
  do {
    again = false;
    try {
      await round();
    } catch {
      stale = true; // no network
      aged = true;
    }
    tell();
  } while (again);
  busy = false;
}

// ---- what happens on the page

function tickRow(event) {
  const form = event.target.closest("form");
  const row = form?.closest("[data-row]");
  if (!row) return;
  const [crew, item] = row.dataset.row.split(" ");
  const there = !shownThere(row);
  const key = keyOf(crew, account);
  try {
    write(key, { ...read(key), [item]: { there, at: new Date().toISOString(), to: form.getAttribute("action") } });
  } catch {
    return; // the phone keeps nothing: the plain form goes
  }
  event.preventDefault();
  drawRow(row, there, true);
  tell();
  deliver();
}

box.addEventListener("submit", tickRow);
addEventListener("online", deliver);
// Others of the crew may have ticked meanwhile.
document.addEventListener("visibilitychange", () => {
  if (document.hidden) return;
  stale = true;
  deliver();
});
setInterval(() => (stale || mine().length) && deliver(), EVERY_MS);
navigator.serviceWorker?.register(said.worker, { scope: "/outings/", updateViaCache: "none" }).catch(() => {});
drawWaiting();
tell();
deliver();
