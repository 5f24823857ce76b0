// Sends what waits in the outbox, for the page and its worker alike; hence no import and no export.
// A message leaves the phone's store only when the service has said that it has it.
"use strict";

(() => {
  const ADDRESS = "/api/v1/phone/messages/";
  const PATIENCE_MS = 20000;

  async function deliver(item) {
    const answer = await fetch(ADDRESS, {
      method: "POST",
      credentials: "omit",
      // A page that is put away must not take a request with it.
      keepalive: true,
      headers: { "Content-Type": "application/json", "Idempotency-Key": item.key },
      body: JSON.stringify({ key_id: item.key_id, sealed: item.sealed }),
      signal: AbortSignal.timeout(PATIENCE_MS),
    });
    const said = await answer.json().catch(() => null);
    return { status: answer.status, said, wait: Number(answer.headers.get("Retry-After")) || 0 };
  }

  // What the answer makes of the row. Arrived: the seal's content goes. Anything else: all of it stays, and only the
  // service's own words refuse it: what a proxy or a hotel's sign-in page answers is no answer, and two changes
  // that crossed are none either, for sent again it will be taken.
  function settled(item, { status, said, wait }, now) {
    if ((status === 200 || status === 201) && said?.received) {
      return { ...item, state: "sent", sealed: "", sent_at: now, reference: said.reference || "" };
    }
    const refused = status >= 400 && status < 500 && status !== 429 && typeof said?.code === "string";
    if (refused && said.code !== "changes-crossed") {
      return { ...item, state: "refused", said: status, message: said.message || "" };
    }
    return { ...item, not_before: now + Math.max(wait, 15) * 1000, said: status };
  }

  const due = (item, now) =>
    item.state === "waiting" && item.release_at <= now && (item.not_before || 0) <= now;

  // One after the other in the order they were written. True when nothing that was due is left.
  async function sendAll(store, now) {
    const items = (await store.all("outbox")).filter((item) => due(item, now()));
    items.sort((a, b) => a.made_at - b.made_at);
    let done = true;
    for (const item of items) {
      let outcome;
      try {
        outcome = await deliver(item);
      } catch {
        return false; // no network, or it broke off: the next trigger tries again
      }
      await store.change("outbox", item.id, (row) => row?.key === item.key && settled(row, outcome, now()));
      done &&= settled(item, outcome, now()).state !== "waiting";
      if (outcome.status === 429) break;
    }
    return done;
  }

  // Page and worker don't send at once; if they did, the message's key would still make it one.
  self.sendOutbox = (store, now = Date.now) =>
    globalThis.navigator?.locks
      ? navigator.locks.request("three-fifteen-outbox", () => sendAll(store, now))
      : sendAll(store, now);
})();
