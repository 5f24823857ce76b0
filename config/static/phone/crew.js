// The crew lead's page: today's crew, a report for one of them, a near miss in two taps, dogs handled by task.

import { button, choices, h, heading, label, t } from "./dom.js";

const HANDLED = ["netting", "holding", "injecting", "collaring", "held-by-owner"];
const SETTLE_MS = 60000;

export class Crew {
  constructor(kept) {
    this.kept = kept;
    this.clear();
  }

  clear() {
    Object.assign(this, { people: [], outings: [], area: "", date: "", outing: null, ends_at: "", outcome: "" });
  }

  async load() {
    Object.assign(this, (await this.kept.recall("crew")) || {});
  }

  // Taken along while there is network, by somebody who is signed in; gone from the phone when the day is over.
  // Answers the code of a sentence.
  async fetch() {
    let answer, crew;
    try {
      answer = await fetch("/phone/crew/", { headers: { Accept: "application/json" } });
      if (answer.redirected || answer.status === 403) return "crew_sign_in";
      crew = await answer.json();
    } catch {
      return "crew_offline";
    }
    if (!crew?.people) return "crew_offline";
    Object.assign(this, crew);
    await this.kept.keep("crew", crew, { until: Date.parse(crew.ends_at) });
    return crew.people.length ? "crew_here" : "crew_none";
  }

  // True once when the day is over: the names go from a page that was left open too.
  over() {
    if (!(Date.parse(this.ends_at) <= Date.now())) return false;
    this.clear();
    void this.kept.forget("crew");
    return true;
  }
}

const today = (zone) => new Intl.DateTimeFormat("en-CA", { timeZone: zone, dateStyle: "short" }).format(Date.now());

export function crewScreen(app) {
  if (!app.canKeep) return h("div", {}, heading(1, t("crew")), h("p", { class: "note" }, t("no_sealing")));
  return h("div", {},
    heading(1, t("crew")),
    app.card.link ? null : h("p", { class: "note" }, t("crew_needs_code"), " ", button(t("enter_code"), () => app.show({ screen: "code" }), "quiet")),
    crewCard(app), nearMissCard(app), handledCard(app),
    h("div", { class: "actions" }, button(t("to_start"), () => app.show({ screen: "home" }), "quiet")));
}

function crewCard(app) {
  const { crew } = app;
  const words = crew.people.length ? t("crew_of", { area: crew.area }) : t(crew.outcome || "crew_empty");
  const signIn = h("a", { class: "button quiet", href: "/sign-in/?next=/phone/%3Fscreen%3Dcrew" }, t("sign_in"));
  const take = async () => {
    crew.outcome = await crew.fetch();
    // This card alone: on the others somebody may be in the middle of a near miss.
    card.replaceWith(crewCard(app));
  };
  const card = h("section", { class: "card", "data-crew": true }, [h("h2", {}, t("crew_today")), h("p", { role: "status" }, words),
    h("ul", { class: "crew" }, crew.people.map((person) => h("li", {}, h("span", {}, person.name), forPerson(app, person, true), forPerson(app, person, false)))),
    // Below the people: whoever is bitten washes first.
    ...(crew.outings || []).map(outingDetails),
    button(t(crew.people.length ? "crew_again" : "crew_take"), take, "quiet"), crew.outcome === "crew_sign_in" ? signIn : null].filter(Boolean));
  return card;
}

// What the crew is told: the service says label, words and link of each row, so a new one shows itself.
const outingDetails = ({ area, rows }) => rows.length ? h("section", { class: "told" }, h("h3", {}, area), h("dl", {},
  rows.flatMap(({ label: name, words, href }) => [h("dt", {}, name), h("dd", {}, href ? h("a", { href }, words) : words)]))) : null;

function forPerson(app, { id, name }, washing) {
  const begin = async () => {
    const record = await app.records.begin({ clock: washing, link: app.card.link, person: id, person_name: name });
    record.answers.who = String(id);
    app.open(record);
  };
  return button(t(washing ? "wash_for" : "report_for"), begin, washing ? "" : "quiet", { "aria-label": t(washing ? "wash_for_name" : "report_for_name", { name }) });
}

// First tap: near miss. Second: the task. It is sealed at once and can be taken back for a minute.
function nearMissCard(app) {
  const box = h("div", { class: "options", hidden: true, role: "group", "aria-label": t("q_task") });
  const state = h("p", { role: "status" });
  const open = button(t("near_miss"), () => {
    box.hidden = false;
    box.firstChild.focus();
  }, "", { "data-near-miss": true });
  const write = async (task) => {
    const about = crypto.randomUUID();
    await app.outbox.queue({ slot: `report:${about}`, kind: "report", about, body: nearMiss(task), link: app.card.link, releaseAt: Date.now() + SETTLE_MS });
    box.hidden = true;
    state.replaceChildren(t("near_miss_kept", { task: label("task", task) }), " ", button(t("take_back"), async () => {
      state.textContent = t((await app.outbox.takeBack(`report:${about}`)) ? "taken_back" : "too_late");
    }, "quiet"));
  };
  box.append(...choices.task.map(([value, text]) => button(text, () => write(value), "option")));
  return h("section", { class: "card" }, h("h2", {}, t("near_miss_title")), open, box, state);
}

const nearMiss = (task) => ({
  person: null, kind: "near-miss", happened_at: new Date().toISOString(), wounds: [], animal: "unknown",
  animal_facts: { collar: "unknown", signs: [], can_be_watched: "unknown", owner_known: "unknown" }, task, causes: [],
  others_hurt: "unknown", narrative: "", washing: { spells: [], stated_not_washed: false, antiseptic: "unknown" }, place: null, complete: true,
});

// Counts are absolute for the day, so a message that comes twice or late changes nothing.
function handledCard(app) {
  const day = today(app.card.zone);
  const rows = h("ul", { class: "crew" });
  const card = h("section", { class: "card" }, h("h2", {}, t("handled")), h("p", { class: "quiet-text" }, t("handled_hint")), rows);
  const fill = async () => {
    const counts = (await app.store.get("plain", `handled:${day}`))?.counts || {};
    rows.replaceChildren(...HANDLED.map((task) => handledRow(app, day, counts, task)));
  };
  fill();
  return card;
}

function handledRow(app, day, counts, task) {
  const shown = h("output", { "aria-live": "polite" }, String(counts[task] || 0));
  const step = (by) => async () => {
    counts[task] = Math.max(0, (counts[task] || 0) + by);
    shown.textContent = String(counts[task]);
    await app.store.put("plain", { id: `handled:${day}`, day, counts });
    const body = { date: day, outing: app.crew.date === day ? app.crew.outing : null, counts };
    await app.outbox.queue({ slot: `handled:${day}`, kind: "handled", about: null, body, link: app.card.link, releaseAt: Date.now() + SETTLE_MS });
  };
  const name = label("task", task);
  return h("li", {}, h("span", {}, name), button("−", step(-1), "quiet step", { "aria-label": t("one_less", { task: name }) }), shown,
    button("+", step(1), "step", { "aria-label": t("one_more", { task: name }), "data-more": task }));
}
