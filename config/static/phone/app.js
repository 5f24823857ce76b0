// Puts the phone's page together: what it keeps, what it shows, and the way back through its screens.

import "./store.js";
import { questionOpen } from "./ask.js";
import { Card, codeFromAddress } from "./card.js";
import { running } from "./clock.js";
import { Crew, crewScreen } from "./crew.js";
import { codeScreen, deviceScreen } from "./device.js";
import { button, focusHeading, h, minutes, seed, t } from "./dom.js";
import { homeParts, kilobytes } from "./home.js";
import { incidentScreen, tick } from "./incident.js";
import { Kept } from "./kept.js";
import { Offline } from "./offline.js";
import { Outbox } from "./outbox.js";
import { clinicsScreen } from "./places.js";
import { Records } from "./records.js";
import { canSeal } from "./seal.js";

const $ = (id) => document.getElementById(id);
const TICK_MS = 500;
const LOCATE_MS = 15000;
const REFRESH_MS = 3600 * 1000;
const NEWS_MS = 600 * 1000;

class App {
  constructor(store) {
    this.store = store;
    this.canKeep = canSeal;
    const kept = canSeal ? new Kept(store) : new NothingKept();
    this.outboxRows = [];
    this.outbox = canSeal ? new Outbox(store, seed.keys, () => this.outboxChanged()) : null;
    this.card = new Card(kept);
    this.crew = new Crew(kept);
    this.kept = kept;
    this.records = new Records({ store, kept: canSeal ? kept : null, outbox: this.outbox });
    this.offline = new Offline((bytes, use) => this.offer(bytes, use));
    this.place = { screen: "home" };
    this.lastPlace = null;
    this.persisted = false;
  }

  get target() {
    return this.card.field?.wash_minutes || seed.wash_minutes;
  }

  get wakes() {
    return this.offline.wakes;
  }

  get size() {
    return this.offline.size;
  }

  async start() {
    const code = codeFromAddress();
    await this.card.load();
    if (code && code !== this.card.link) await this.card.use(code);
    await this.outbox?.useKeys(this.card.field);
    await this.crew.load();
    await this.records.load();
    await this.outbox?.tidy();
    await this.outboxChanged();
    const asked = new URLSearchParams(location.search).get("screen");
    history.replaceState({ screen: "home" }, "", location.pathname);
    const open = (await this.firstStart()) || this.records.list.find((record) => running(record.spells)) || (code && this.nameless);
    this.wire();
    if (asked === "crew") this.show({ screen: "crew" });
    else if (open) this.open(open);
    else this.render();
    this.settleIn();
  }

  // A clock started before this script was here.
  async firstStart() {
    const now = self.takeFirstStart();
    if (!now) return null;
    const record = await this.records.begin({ clock: true, link: this.card.link, now });
    self.firstStartKept();
    return record;
  }

  wire() {
    this.watchFingers();
    $("start").addEventListener("click", async () => {
      const record = await this.records.begin({ clock: true, link: this.card.link });
      this.open(record);
      this.wakeful();
    });
    addEventListener("popstate", ({ state }) => {
      this.place = state?.screen ? state : { screen: "home" };
      this.render();
    });
    document.addEventListener("visibilitychange", () => {
      if (document.hidden) this.records.hide();
      else this.wakeful();
    });
    // A card's link opened in the tab that has the page already: only the fragment changes.
    addEventListener("hashchange", async () => {
      const code = codeFromAddress();
      if (!code || code === this.card.link) return;
      await this.useCode(code);
      if (this.nameless && this.nameless.about !== this.place.about) this.open(this.nameless);
      else this.redraw();
    });
    addEventListener("online", () => this.refresh());
    setInterval(() => this.refresh(), REFRESH_MS);
    setInterval(() => {
      this.records.list.forEach((record) => tick(this, record));
      if (this.crew.over() && document.querySelector("[data-crew]")) this.render();
    }, TICK_MS);
  }

  // What can wait until the clock can be started.
  async settleIn() {
    this.outbox?.listen();
    await this.refresh();
    if (this.card.link) this.persisted = (await navigator.storage?.persist?.().catch(() => false)) || false;
    await this.offline.start();
    this.redrawFetched();
  }

  async refresh(within) {
    await this.card.refresh(within);
    await this.outbox?.refreshKeys(this.card.field);
    this.redrawFetched();
  }

  // Only screens that show what has just come: elsewhere somebody may be about to confirm something.
  redrawFetched() {
    if (["home", "clinics"].includes(this.place.screen)) this.redraw();
  }

  // What was begun on this phone while it had no card: whose it is, only whoever holds the phone can say.
  get nameless() {
    return this.card.link && this.canKeep && this.records.list.find(({ link, sent }) => !link && !sent);
  }

  // Back goes to the screen before: the start page, or the question before.
  show(place) {
    this.place = place;
    history.pushState(place, "");
    this.render();
    // Stock and the clinic of the day change within hours: whoever looks and has network sees today's.
    if (place.screen === "clinics") void this.refresh(NEWS_MS);
  }

  // The page's own way back to the question before, also after a reload.
  back(place) {
    this.place = place;
    history.replaceState(place, "");
    this.render();
  }

  open(record) {
    this.show({ screen: "incident", about: record.about, question: questionOpen(this, record) });
  }

  note(code) {
    $("note").replaceChildren(h("p", { class: "note" }, t(code)));
  }

  render() {
    const { screen, about, note } = this.place;
    const record = this.records.list.find((one) => one.about === about) || null;
    const home = screen === "home" || (screen === "incident" && !record);
    $("home").hidden = !home;
    $("note").replaceChildren();
    if (note) this.note(note);
    $("view").replaceChildren(...(home ? homeParts(this) : [this.screen(screen, record)]));
    if (!home) focusHeading($("view"));
    this.emergencyLine();
  }

  screen(name, record) {
    if (name === "incident") return incidentScreen(this, record);
    if (name === "clinics") return clinicsScreen(this, record);
    if (name === "crew") return crewScreen(this);
    if (name === "code") return codeScreen(this, record);
    return deviceScreen(this);
  }

  // A tap is finger down and up on one element: what is redrawn in between would take the button away under it.
  watchFingers() {
    addEventListener("pointerdown", () => (this.pressed = true), true);
    const off = () => setTimeout(() => {
      this.pressed = false;
      if (this.late) this.redraw();
    });
    for (const name of ["pointerup", "pointercancel"]) addEventListener(name, off, true);
  }

  // Draws the same screen again, unless somebody is tapping or typing on it.
  redraw() {
    this.late = this.pressed;
    if (this.pressed) return;
    const active = document.activeElement;
    if (!$("view").contains(active) || !["INPUT", "TEXTAREA"].includes(active.tagName)) this.render();
  }

  emergencyLine() {
    const number = this.card.field?.emergency_number;
    $("emergency").replaceChildren(number ? h("a", { class: "tel", href: `tel:${number.replace(/[^+\d]/g, "")}` }, `${t("emergency")}: ${number}`) : "");
    $("wash-minutes").textContent = t("wash_now", { minutes: minutes(this.target) });
  }

  async outboxChanged() {
    this.outboxRows = (await this.outbox?.list()) || [];
    const record = this.records.list.find(({ about }) => about === this.place.about);
    if (this.place.screen === "home" || (this.place.screen === "incident" && record?.sent)) this.redraw();
  }

  async sendReport(record) {
    if (!record.link && this.card.link) await this.records.lend(record, this.card.link);
    await this.records.send(record);
    await this.outboxChanged();
    this.show({ screen: "incident", about: record.about });
  }

  async useCode(code, record) {
    await this.card.use(code);
    if (record) await this.records.lend(record, code);
    void this.refresh();
  }

  async forget() {
    await this.records.forgetAll();
    await this.kept.forgetAll();
    for (const row of await this.store.all("plain")) await this.store.remove("plain", row.id);
    Object.assign(this.card, { link: null, field: null, trouble: "" });
    this.crew.clear();
  }

  locate() {
    return new Promise((resolve, reject) => {
      if (!navigator.geolocation) reject(new Error("no position here"));
      const take = ({ coords }) => resolve({ latitude: coords.latitude, longitude: coords.longitude, accuracy_m: coords.accuracy });
      navigator.geolocation.getCurrentPosition(take, reject, { enableHighAccuracy: true, timeout: LOCATE_MS });
    });
  }

  // The screen stays on while a clock runs, where the browser can do that.
  wakeful() {
    const runs = this.records.list.some((record) => running(record.spells));
    if (runs) navigator.wakeLock?.request("screen").catch(() => {});
  }

  offer(bytes, use) {
    $("update").replaceChildren(h("p", { class: "note" }, t("update", { size: kilobytes(bytes) }), " ", button(t("update_now"), use, "quiet")));
  }
}

// Without WebCrypto nothing about anybody is kept on the phone.
class NothingKept {
  async recall() {
    return null;
  }
  async keep() {}
  async forget() {}
  async forgetAll() {}
}

const app = new App(await self.openPhoneStore());
await app.start();
