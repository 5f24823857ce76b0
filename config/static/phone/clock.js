// The arithmetic of washing. Everything comes from instants (epoch milliseconds), so a locked screen, a reload or a
// change of the clocks costs nothing. The service counts in the same way (safety/rules/case/washing.py).

// Milliseconds in the union of the spells; one that still runs counts up to `now`.
export function washedMs(spells, now) {
  const spans = spells.map((spell) => [spell.started_at, Math.max(spell.started_at, spell.stopped_at ?? now)]);
  spans.sort((a, b) => a[0] - b[0]);
  let total = 0;
  let reached = -Infinity;
  for (const [start, stop] of spans) {
    total += Math.max(0, stop - Math.max(start, reached));
    reached = Math.max(reached, stop);
  }
  return total;
}

export const running = (spells) => spells.find((spell) => spell.stopped_at === null) || null;

// {washed, left, done} in whole seconds against the target in minutes.
export function reading(spells, now, targetMinutes) {
  const washed = Math.floor(washedMs(spells, now) / 1000);
  const left = Math.max(0, targetMinutes * 60 - washed);
  return { washed, left, done: left === 0 };
}

export const face = (seconds) => `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}`;

export function started(now) {
  return { started_at: now, stopped_at: null, soap: "unknown", running_water: "unknown" };
}

export function stopped(spells, now) {
  return spells.map((spell) =>
    spell.stopped_at === null ? { ...spell, stopped_at: Math.max(now, spell.started_at) } : spell,
  );
}

// The spells as the service takes them.
export const asSent = (spells) =>
  spells.map((spell) => ({
    ...spell,
    started_at: new Date(spell.started_at).toISOString(),
    stopped_at: spell.stopped_at === null ? null : new Date(spell.stopped_at).toISOString(),
  }));
