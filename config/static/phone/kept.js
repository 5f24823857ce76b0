// Things this phone must read again itself (the link, a draft, the crew, the field card), encrypted under keys that
// the browser never hands out. Taking the key away makes what it kept unreadable.
// What remains: the browser writes such keys into files of its own, so who can take the phone's storage apart reads a begun
// report until its key is gone (sent, or 12 hours later), and the link; a code opened as a link stays in the browser's
// history. For a lost phone the card is renewed.

const AES = { name: "AES-GCM", length: 256 };
const NEVER = 8.64e15;

export class Kept {
  constructor(store) {
    this.store = store;
    this.unreadable = false;
  }

  async #key(id) {
    const known = await this.store.get("keys", id);
    if (known) return known.key;
    const key = await crypto.subtle.generateKey(AES, false, ["encrypt", "decrypt"]);
    // Of two tabs that make one at the same moment both take the first.
    await this.store.change("keys", id, (row) => row || { id, key });
    return (await this.store.get("keys", id)).key;
  }

  // `under` names the key: one for the phone, and one of its own for each draft. `until` is epoch milliseconds.
  async keep(id, value, { under = "phone", until = NEVER } = {}) {
    const iv = crypto.getRandomValues(new Uint8Array(12));
    const plain = new TextEncoder().encode(JSON.stringify(value));
    const data = await crypto.subtle.encrypt({ name: "AES-GCM", iv }, await this.#key(under), plain);
    await this.store.put("kept", { id, under, until, iv, data });
  }

  // The value, or null when there is none, its time is over, its key is gone, or it can't be read.
  async recall(id, now = Date.now()) {
    const row = await this.store.get("kept", id);
    const kept = row && (await this.store.get("keys", row.under));
    if (!kept || row.until <= now) return null;
    try {
      const plain = await crypto.subtle.decrypt({ name: "AES-GCM", iv: row.iv }, kept.key, row.data);
      return JSON.parse(new TextDecoder().decode(plain));
    } catch {
      this.unreadable = true;
      return null;
    }
  }

  async forget(id) {
    const row = await this.store.get("kept", id);
    if (row && row.under !== "phone") await this.store.remove("keys", row.under);
    await this.store.remove("kept", id);
  }

  async forgetPast(now = Date.now()) {
    for (const row of await this.store.all("kept")) if (row.until <= now) await this.forget(row.id);
  }

  async forgetAll() {
    for (const row of await this.store.all("kept")) await this.forget(row.id);
    await this.store.remove("keys", "phone");
    this.unreadable = false;
  }
}
