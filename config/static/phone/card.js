// The personal link of this phone's holder and the field card of the site: both encrypted on the phone.

const CODE = /^[23456789A-HJKMNP-Z]{34}$/;
const FRESH_MS = 6 * 3600 * 1000;
const PATIENCE_MS = 20000;

// Also what seems to come from the future isn't fresh: the phone's clock was wrong then or is now.
export const isFresh = (fetchedAt, within = FRESH_MS) => Math.abs(Date.now() - fetchedAt) < within;

// {status, body}: no network is status 0; what isn't JSON has no body, as a strange network's sign-in page.
export async function fetchJson(address, more = {}) {
  try {
    const answer = await fetch(address, { credentials: "omit", signal: AbortSignal.timeout(PATIENCE_MS), ...more });
    return { status: answer.status, body: await answer.json() };
  } catch {
    return { status: 0, body: null };
  }
}

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

  // Fetches the field card when there is network and the kept one is older than six hours, or than `within`.
  async refresh(within) {
    if (!this.link || (this.field && isFresh(this.field.fetched_at, within))) return;
    const asked = this.link;
    const { status, body } = await fetchJson("/api/v1/phone/card/", {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify({ link: asked }),
    });
    // Without an answer of the service the kept card stays as it is.
    if (asked !== this.link || !(body?.clinics || body?.code)) return;
    this.trouble = status === 403 ? "link_refused" : status === 429 ? "link_locked" : "";
    if (!body.clinics) return;
    this.field = { ...body, fetched_at: Date.now() };
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
