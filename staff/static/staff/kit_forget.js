// Who comes to sign in has signed out or was never in: lists kept for an account before must not open for the next.
// Ticks that weren't sent stay; they carry their account.
globalThis.caches?.delete("kit-pages");
