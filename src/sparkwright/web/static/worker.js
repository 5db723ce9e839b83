// Stands between the pages and the network: keeps our own files, and answers for a workbench that doesn't.
// The list FILES is put before this script by the server.
"use strict";

const CACHE = `sparkwright ${new URL(location).search}`;
const OFFLINE = FILES[0];
const WAIT_MS = 8000;

self.addEventListener("install", (event) => {
  self.skipWaiting();
  event.waitUntil(caches.open(CACHE).then((cache) => cache.addAll(FILES)));
});

self.addEventListener("activate", (event) => {
  event.waitUntil(forgetOthers().then(() => self.clients.claim()));
});

async function forgetOthers() {
  const names = await caches.keys();
  await Promise.all(names.filter((name) => name !== CACHE).map((name) => caches.delete(name)));
}

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const address = new URL(request.url);
  // Who asks past every cache wants to know whether the workbench answers.
  if (request.method !== "GET" || address.origin !== location.origin || request.cache === "no-store") return;
  if (address.pathname.startsWith("/static/")) event.respondWith(kept(request));
  else if (request.mode === "navigate" && request.destination === "document") event.respondWith(page(request));
});

async function kept(request) {
  return (await caches.match(request)) ?? fetch(request);
}

// A page that waits on a dead network for minutes helps nobody; only the pages on which readings are typed, and the
// first one, are given up early, since others may take their time over a plan.
async function page(request) {
  const { pathname } = new URL(request.url);
  const early = pathname === "/" || pathname.endsWith("/light") || pathname.endsWith("/dyno");
  const limit = early ? new Promise((resolve, reject) => setTimeout(reject, WAIT_MS)) : new Promise(() => {});
  try {
    return await Promise.race([fetch(request), limit]);
  } catch {
    return (await caches.match(OFFLINE)) ?? Response.error();
  }
}
