// Served instead of the worker when it is switched off: takes the kept page away and itself, never the outbox.
"use strict";

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => {
  const leave = async () => {
    const names = await caches.keys();
    await Promise.all(names.filter((name) => name.startsWith("phone-")).map((name) => caches.delete(name)));
    await self.registration.unregister();
  };
  event.waitUntil(leave());
});
