// Shows a page of our own when the host cannot be reached. It keeps that one page and nothing else: never anything of
// the chamber, its photos or its numbers.
"use strict";
const CACHE = "lampwarden-{mark}";
const UNREACHABLE = "/unreachable";
const GATEWAY = [502, 503, 504]; // a proxy stands before a host that does not answer

self.addEventListener("install", (event) => {
  event.waitUntil(
    caches.open(CACHE).then((cache) => cache.add(new Request(UNREACHABLE, { cache: "reload" }))).then(() => self.skipWaiting()),
  );
});
self.addEventListener("activate", (event) => {
  const clean = async () => {
    for (const name of await caches.keys()) if (name !== CACHE) await caches.delete(name);
    await self.clients.claim();
  };
  event.waitUntil(clean());
});

const open = async (request) => {
  try {
    const answer = await fetch(request);
    if (!GATEWAY.includes(answer.status)) return answer;
  } catch {
    // no answer at all
  }
  return (await caches.match(UNREACHABLE)) ?? Response.error();
};
self.addEventListener("fetch", (event) => {
  const { mode, method, url } = event.request;
  // Only a page that is opened; not the API, should somebody open an address of it.
  if (mode === "navigate" && method === "GET" && !new URL(url).pathname.startsWith("/api/")) {
    event.respondWith(open(event.request));
  }
});

self.addEventListener("notificationclick", (event) => {
  event.notification.close();
  const href = event.notification.data?.href ?? "/";
  const show = async () => {
    const pages = await self.clients.matchAll({ type: "window" });
    const there = pages.find((page) => new URL(page.url).pathname === href);
    await (there ? there.focus() : self.clients.openWindow(href));
  };
  event.waitUntil(show());
});
