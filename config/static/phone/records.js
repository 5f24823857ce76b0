// One incident on this phone, from the first tap until its report has gone: its clock, its answers, its sender.
// The clock is kept in the clear, for it is only instants. Answers, person and link are kept encrypted or sealed.

import { asSent, running, started, stopped } from "./clock.js";
import { reportOf, spellsOf } from "./questions.js";

const MINUTE = 60000;
// A clock started by mistake can be taken back for a minute; then the service is told that washing began.
export const TAKE_BACK_MS = MINUTE;
const DRAFT_MS = 30 * MINUTE;
const KEPT_MS = 12 * 60 * MINUTE;

export class Records {
  constructor({ store, kept, outbox }) {
    Object.assign(this, { store, kept, outbox, list: [], writing: Promise.resolve() });
  }

  // What is still open from before, newest first; what is older than 12 hours goes.
  async load(now = Date.now()) {
    await this.kept?.forgetPast(now);
    this.list = [];
    for (const row of await this.store.all("clocks")) {
      if (row.begun_at + KEPT_MS <= now) await this.store.remove("clocks", row.about);
      else this.list.push(await this.#whole(row));
    }
    this.list.sort((a, b) => b.begun_at - a.begun_at);
  }

  async #whole(row) {
    const who = (await this.kept?.recall(`who:${row.about}`)) || { link: null, person: null, person_name: "" };
    const draft = (await this.kept?.recall(`draft:${row.about}`)) || { answers: {}, place: null };
    if (who.person) draft.answers.who ??= String(who.person);
    return { happened_at: row.begun_at, ...row, ...who, ...draft };
  }

  async begin({ clock, link, person = null, person_name = "", now = Date.now() }) {
    const record = {
      about: newKey(), begun_at: now, happened_at: now, spells: clock ? [started(now)] : [], antiseptic: "unknown",
      sent: false, link, person, person_name, answers: {}, place: null,
    };
    this.list.unshift(record);
    await this.saveClock(record);
    await this.saveWho(record);
    if (clock) await this.#queueAlarm(record, now + TAKE_BACK_MS);
    return record;
  }

  #queueAlarm(record, releaseAt) {
    if (!this.outbox || !record.link) return null;
    const [spell] = record.spells;
    const body = { started_at: new Date(spell.started_at).toISOString(), person: record.person, soap: spell.soap };
    return this.#queue(record, "alarm", body, releaseAt);
  }

  #queue(record, kind, body, releaseAt) {
    const { about, link } = record;
    return this.outbox?.queue({ slot: `${kind}:${about}`, kind, about, body, link, releaseAt });
  }

  saveClock({ about, begun_at, spells, antiseptic, sent }) {
    return this.store.put("clocks", { about, begun_at, spells, antiseptic, sent });
  }

  saveWho({ about, begun_at, link, person, person_name }) {
    return this.kept?.keep(`who:${about}`, { link, person, person_name }, { until: begun_at + KEPT_MS });
  }

  // Started by mistake: gone within the minute as if it had never been. False once the service was told.
  async takeBack(record) {
    if (this.outbox && record.link && !(await this.outbox.takeBack(`alarm:${record.about}`))) return false;
    await this.outbox?.takeBack(`wash:${record.about}`);
    await this.outbox?.takeBack(`draft:${record.about}`);
    await this.#forget(record);
    return true;
  }

  async #forget(record) {
    this.list = this.list.filter((other) => other !== record);
    await this.store.remove("clocks", record.about);
    await this.kept?.forget(`draft:${record.about}`);
    await this.kept?.forget(`who:${record.about}`);
  }

  async wash(record, spells, antiseptic = record.antiseptic) {
    Object.assign(record, { spells, antiseptic });
    await this.saveClock(record);
    if (!record.link && !record.sent) return;
    const body = { spells: asSent(spells), antiseptic };
    await this.#queue(record, "wash", body, Math.max(Date.now(), record.begun_at + TAKE_BACK_MS));
  }

  startSpell(record, now = Date.now()) {
    return running(record.spells) ? null : this.wash(record, [...record.spells, started(now)]);
  }

  stopSpell(record, now = Date.now()) {
    return this.wash(record, stopped(record.spells, now));
  }

  // How it is washed is said of the latest spell.
  how(record, soap, running_water) {
    const last = record.spells.length - 1;
    return this.wash(record, record.spells.map((spell, at) => (at === last ? { ...spell, soap, running_water } : spell)));
  }

  // Kept at each step: once to be gone on with here, once sealed to go out by itself if nobody does.
  // The next question doesn't wait for it; writes go one after the other.
  answer(record, changed) {
    Object.assign(record, changed);
    const keep = () => this.#keepDraft(record);
    this.writing = this.writing.then(keep, keep);
    return this.writing;
  }

  async #keepDraft(record) {
    if (!this.outbox || record.sent) return;
    const { about, answers, place, happened_at, begun_at } = record;
    const until = begun_at + KEPT_MS;
    await this.kept.keep(`draft:${about}`, { answers, place, happened_at }, { under: `draft:${about}`, until });
    await this.saveWho(record);
    await this.outbox.release(`alarm:${about}`);
    await this.#queueReport(record, "draft", false, Date.now() + DRAFT_MS);
  }

  #queueReport(record, slot, complete, releaseAt) {
    const washing = {
      spells: asSent(spellsOf(record, complete)),
      stated_not_washed: record.answers.washed === "not-washed" && !record.spells.length,
      antiseptic: record.antiseptic,
    };
    const { about, link } = record;
    const body = { ...reportOf(record, complete), washing };
    return this.outbox.queue({ slot: `${slot}:${about}`, kind: "report", about, body, link, releaseAt });
  }

  // The report goes into the outbox before the draft goes away: at no instant is there neither.
  async send(record) {
    await this.writing;
    await this.#queueReport(record, "report", true, Date.now());
    record.sent = true;
    await this.saveClock(record);
    await this.outbox.takeBack(`draft:${record.about}`);
    await this.kept.forget(`draft:${record.about}`);
  }

  // Whoever's card is on the phone now sends what was begun without one, all there is of it so far.
  async lend(record, link) {
    record.link = link;
    await this.saveWho(record);
    if (record.sent) return;
    if (record.spells.length) {
      await this.#queueAlarm(record, Math.max(Date.now(), record.begun_at + TAKE_BACK_MS));
      await this.wash(record, record.spells);
    }
    if (Object.keys(record.answers).length) await this.answer(record, {});
  }

  async forgetAll() {
    for (const record of this.list) await this.#forget(record);
  }

  hide() {
    for (const record of this.list) void this.outbox?.release(`alarm:${record.about}`);
  }
}

// A key for an incident; plain http has no randomUUID, and nothing is sent from there either.
const newKey = () => globalThis.crypto?.randomUUID?.() || `memory-${Date.now()}`;
