// What is to be sent: sealed the moment it is written, queued, and sent at every occasion.

import "./store.js";
import "./post.js";
import { fetchJson, isFresh } from "./card.js";
import { sealMessage } from "./seal.js";

const EVERY_MS = 30000;
const SENT_KEPT_MS = 7 * 24 * 3600 * 1000;

export class Outbox {
  // `keys`: the public keys to seal to, newest first. `changed` is called after every change.
  constructor(store, keys, changed) {
    this.store = store;
    this.keys = keys;
    this.changed = changed;
    this.busy = null;
  }

  // Seals and queues one message. What still waits in the same slot is replaced: a draft by its next step.
  async queue({ slot = null, kind, about, body, link, releaseAt = Date.now() }) {
    const key = crypto.randomUUID();
    const now = Date.now();
    const { key_id, public: point } = this.keys[0];
    const message = { v: 1, link, kind, about, made_at: new Date(now).toISOString(), body };
    const sealed = await sealMessage(point, key, message);
    if (slot) await this.#free(slot);
    const id = slot || key;
    await this.store.put("outbox", {
      id, key, key_id, sealed, about, kind,
      part: slot?.startsWith("draft:") || false,
      made_at: now, release_at: releaseAt, state: "waiting", reference: "",
    });
    this.changed();
    if (releaseAt <= now) this.send();
  }

  // What went out from a slot keeps its place in the list under its own key.
  async #free(slot) {
    const row = await this.store.get("outbox", slot);
    if (row && row.state !== "waiting") await this.store.put("outbox", { ...row, id: row.key });
  }

  // What the service said last counts, not what lasts longest: put back from a copy it has an older key again.
  // Answers when that was.
  async useKeys(card) {
    const asked = await this.store.get("plain", "keys");
    const [last] = [asked, card].filter(Boolean).sort((a, b) => b.fetched_at - a.fetched_at);
    if (last) this.keys = last.keys;
    return last?.fetched_at || 0;
  }

  // Without a live link no field card brings a new key.
  async refreshKeys(card) {
    if (isFresh(await this.useKeys(card))) return;
    const said = await fetchJson("/api/v1/phone/keys/");
    if (!said.body?.keys?.[0]?.public) return;
    await this.store.put("plain", { id: "keys", keys: said.body.keys, fetched_at: Date.now() });
    await this.useKeys(card);
  }

  async release(slot) {
    await this.store.change("outbox", slot, (row) => row?.state === "waiting" && { ...row, release_at: Date.now() });
    this.send();
  }

  // True when it was taken back before it went out.
  async takeBack(slot) {
    const row = await this.store.get("outbox", slot);
    if (!row || row.state !== "waiting") return false;
    await this.store.remove("outbox", slot);
    this.changed();
    return true;
  }

  async again(id) {
    await this.store.change("outbox", id, (row) => row?.state === "refused" && { ...row, state: "waiting" });
    this.send();
  }

  // One run at a time; what became due meanwhile goes in a run right after it.
  send() {
    this.more = true;
    this.busy ??= this.#run().finally(() => (this.busy = null));
    return this.busy;
  }

  async #run() {
    while (this.more) {
      this.more = false;
      await self.sendOutbox(this.store);
      await this.changed();
      await this.#askForSync();
    }
  }

  // Where the browser can wake the worker later, ask for it; elsewhere the page says to keep it open.
  async #askForSync() {
    const registration = await navigator.serviceWorker?.getRegistration("/phone/");
    if (!registration?.active || !registration.sync) return;
    const waits = (await this.list()).some((row) => row?.state === "waiting");
    if (waits) await registration.sync.register("outbox").catch(() => {});
  }

  async list() {
    const rows = await this.store.all("outbox");
    return rows.sort((a, b) => b.made_at - a.made_at);
  }

  // What has arrived is shown for a week; then only its absence is left.
  async tidy(now = Date.now()) {
    for (const row of await this.list()) {
      if (row.state === "sent" && row.sent_at < now - SENT_KEPT_MS) await this.store.remove("outbox", row.id);
    }
  }

  listen() {
    const send = () => void this.send();
    addEventListener("online", send);
    document.addEventListener("visibilitychange", send);
    setInterval(send, EVERY_MS);
    send();
  }
}
