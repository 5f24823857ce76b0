// Opens the kit pages without network, from the copy that the page itself keeps (kit.js).
// The service puts KIT in front: whether copies are wanted, and the files that the pages need.
"use strict";

/* global KIT */
const COPIES = "kit-pages";
const PATIENCE_MS = 3000;
const KEPT_MS = 7 * 24 * 60 * 60 * 1000;
const PAGE = /^\/outings\/\d+\/kit\/$/;

self.addEventListener("install", () => self.skipWaiting());

self.addEventListener("activate", (event) => {
  const begin = async () => {
    if (KIT.on) return self.clients.claim();
    await caches.delete(COPIES);
    return self.registration.unregister();
  };
  event.waitUntil(begin());
});

// A page older than a week may list what is no longer true; files carry no date and go with the pages.
const copyOf = async (path) => {
  const cache = await caches.open(COPIES);
  const copy = await cache.match(path);
  const kept = copy?.headers.get("X-Kept-At");
  if (!kept || Date.now() - Date.parse(kept) < KEPT_MS) return copy;
  await cache.delete(path);
  return undefined;
};

// The network first; the copy when there is none, it takes too long, or something on the way answers with an error.
const answer = async (request, path) => {
  const network = fetch(request).catch(() => undefined);
  const patience = new Promise((done) => setTimeout(done, PATIENCE_MS));
  const first = await Promise.race([network, patience]);
  if (first && first.status < 500) return first;
  return (await copyOf(path)) || (await network) || Response.error();
};

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const { origin, pathname } = new URL(request.url);
  const page = request.mode === "navigate" && PAGE.test(pathname);
  const ours = origin === self.location.origin && (page || KIT.files.includes(pathname));
  if (KIT.on && ours && request.method === "GET") event.respondWith(answer(request, pathname));
});
