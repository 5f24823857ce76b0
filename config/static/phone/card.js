// The personal link of this phone's holder and the field card of the site: both encrypted on the phone.

const CODE = /^[23456789A-HJKMNP-Z]{34}$/;
const FRESH_MS = 6 * 3600 * 1000;

// The code out of what was typed, scanned or opened; null when it can't be one.
export function codeOf(text) {
  const code = text.toUpperCase().replace(/[^0-9A-Z]/g, "");
  return CODE.test(code) ? code : null;
}

// The code from the address, which is cleaned at once: a fragment stays out of logs, and so out of the page's history.
export function codeFromAddress() {
  // Nothing that a browser encodes is part of a code.
  const code = codeOf(location.hash.replace(/%../g, ""));
  if (location.hash) history.replaceState(history.state, "", location.pathname);
  return code;
}

export class Card {
  constructor(kept) {
    this.kept = kept;
    this.link = null;
    this.field = null;
    this.trouble = "";
  }

  async load() {
    const known = await this.kept.recall("link");
    this.link = known?.code || null;
    this.field = await this.kept.recall("card");
    return this.link;
  }

  // What reports made from now on go out under; those written before stay under the one they were sealed with.
  async use(code) {
    this.link = code;
    this.field = null;
    await this.kept.keep("link", { code });
    await this.kept.forget("card");
  }

  // Fetches the field card when there is network and the kept one is older than six hours.
  async refresh(force = false) {
    if (!this.link) return;
    if (!force && this.field && Date.now() - this.field.fetched_at < FRESH_MS) return;
    const asked = this.link;
    let answer;
    try {
      answer = await fetch("/api/v1/phone/card/", {
        method: "POST",
        credentials: "omit",
        headers: { "Content-Type": "application/json" },
        body: JSON.stringify({ link: asked }),
      });
    } catch {
      return; // no network: the kept card stays
    }
    if (asked !== this.link) return;
    this.trouble = answer.status === 403 ? "link_refused" : answer.status === 429 ? "link_locked" : "";
    if (!answer.ok) return;
    this.field = { ...(await answer.json()), fetched_at: Date.now() };
    await this.kept.keep("card", this.field);
  }

  // Enough of the code to tell two cards apart; its first eight characters are no secret.
  get name() {
    return this.link ? `${this.link.slice(0, 4)}-${this.link.slice(4, 8)}` : "";
  }

  get zone() {
    return this.field?.zone;
  }
}
