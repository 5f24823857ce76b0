// Keeps the page for use without network and sends what waits when the browser wakes it.
// The service puts SHELL in front: the version, the files of the page, and their size over the wire.
"use strict";

/* global SHELL */
importScripts(`${SHELL.files}store.js`, `${SHELL.files}post.js`);

const CACHE = `phone-${SHELL.version}`;

self.addEventListener("install", (event) => {
  const fill = async () => {
    const cache = await caches.open(CACHE);
    // The files carry their version in their address, so what the browser has just fetched is right; the page doesn't.
    const mode = (address) => (address === SHELL.page ? "no-cache" : "default");
    await cache.addAll(SHELL.addresses.map((address) => new Request(address, { cache: mode(address) })));
  };
  event.waitUntil(fill());
});

self.addEventListener("activate", (event) => {
  const clear = async () => {
    const names = await caches.keys();
    await Promise.all(names.filter((name) => name.startsWith("phone-") && name !== CACHE).map((name) => caches.delete(name)));
    await self.clients.claim();
  };
  event.waitUntil(clear());
});

// The page and its files come from the phone; everything else goes to the network untouched.
self.addEventListener("fetch", (event) => {
  const { method, mode, url } = event.request;
  const { pathname } = new URL(url);
  const page = mode === "navigate" && pathname === SHELL.page;
  if (method !== "GET" || !(page || SHELL.addresses.includes(pathname))) return;
  const answer = async () => {
    const cache = await caches.open(CACHE);
    return (await cache.match(page ? SHELL.page : pathname)) || fetch(event.request);
  };
  event.respondWith(answer());
});

self.addEventListener("message", (event) => {
  if (event.data === "use-now") self.skipWaiting();
  if (event.data === "size") event.ports[0]?.postMessage(SHELL.bytes);
});

const sendWaiting = async () => {
  const done = await self.sendOutbox(await self.openPhoneStore());
  // A rejected sync is tried again by the browser.
  if (!done) throw new Error("still waiting");
};

self.addEventListener("sync", (event) => {
  if (event.tag === "outbox") event.waitUntil(sendWaiting());
});
