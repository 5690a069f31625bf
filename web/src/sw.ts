// Service worker: the page and its core from the cache, so that they open without signal. Entries never pass through it.
declare const FILES: string[];
declare const VERSION: string;
const worker = self as unknown as ServiceWorkerGlobalScope;
const CACHE = `tubwright-${VERSION}`;

worker.addEventListener("install", (event) => event.waitUntil(caches.open(CACHE).then((cache) => cache.addAll(FILES.map((file) => new Request(file, { cache: "reload", headers: { Accept: file === "/" ? "text/html" : "*/*" } }))))));

worker.addEventListener("activate", (event) =>
  event.waitUntil(caches.keys().then((names) => Promise.all(names.filter((name) => name !== CACHE).map((name) => caches.delete(name)))).then(() => worker.clients.claim())));

worker.addEventListener("message", (event) => event.data === "go" && worker.skipWaiting());

worker.addEventListener("fetch", (event) => {
  const { pathname, origin } = new URL(event.request.url);
  if (event.request.method !== "GET" || origin !== location.origin || pathname.startsWith("/api/") || pathname === "/lid") return;
  const wanted = event.request.mode === "navigate" ? "/" : pathname;
  event.respondWith(caches.open(CACHE).then(async (cache) => (await cache.match(wanted, { ignoreVary: true, ignoreSearch: true })) ?? fetch(event.request)));
});
