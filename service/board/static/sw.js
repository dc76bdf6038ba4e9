// Pages come from the net; without one, from what this phone last saw of them. Entries are not its business.
"use strict";

const FILES = /* FILES */ [];
const PAGES = "pages", SHELL = "files";
const KEPT = [
  /^\/$/, /^\/(rack|start)$/, /^\/cylinders\/[^/]+$/, /^\/cylinders\/[^/]+\/(weight|reading|transfer|care|hold)$/, /^\/register$/, /^\/entries$/,
  /^\/phone-gateway$/, /^\/help/,
];
const PATIENCE_MS = 4000;

self.addEventListener("install", (event) => {
  event.waitUntil(caches.open(SHELL).then((cache) => cache.addAll(FILES)).then(() => self.skipWaiting()));
});

self.addEventListener("activate", (event) => {
  event.waitUntil((async () => {
    const cache = await caches.open(SHELL), wanted = new Set(FILES.map((path) => new URL(path, location.href).href));
    for (const request of await cache.keys()) if (!wanted.has(request.url)) await cache.delete(request);
    await clients.claim();
  })());
});

function isKept(url) { return url.origin === location.origin && KEPT.some((one) => one.test(url.pathname)); }

// A list with filters is another page; a form that somebody has typed in, or one card that the script asks for, is none:
// what was answered to it then must not be taken for an answer now.
function isLasting(url) { return !url.search || (url.pathname === "/rack" && !url.searchParams.has("only")); }

async function page(request, url) {
  const cache = await caches.open(PAGES);
  try {
    const answer = await fetch(request, { signal: AbortSignal.timeout(PATIENCE_MS) });
    if (answer.ok && !answer.redirected && isLasting(url)) await cache.put(url.pathname + url.search, answer.clone());
    return answer;
  } catch (fault) {
    // An open page that asks what changed must hear that nobody answers; only who opens a page gets the kept one.
    if (request.mode !== "navigate" && request.destination !== "image") throw fault;
    // The board itself begins with the task for whom it was shown, else with the cylinders.
    const first = url.pathname === "/" ? await cache.match("/start") || await cache.match("/rack") : null;
    const kept = first || await cache.match(url.pathname + url.search) || await cache.match(url.pathname) || await cache.match("/entries");
    if (kept) return kept;
    throw fault;
  }
}

self.addEventListener("fetch", (event) => {
  const { request } = event, url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== location.origin) return;
  if (url.pathname.startsWith("/static/")) {
    event.respondWith(caches.match(request, { cacheName: SHELL }).then((kept) => kept || fetch(request)));
  } else if (isKept(url)) {
    event.respondWith(page(request, url));
  }
});
