// Service worker: the page and its core from the cache, so that they open without signal. Entries never pass through it. What it gives says that the
// page stands alone, as `tubwright serve` does: only then may threads share the work of a fold.
declare const FILES: string[];
declare const VERSION: string;
const worker = self as unknown as ServiceWorkerGlobalScope;
const CACHE = `tubwright-${VERSION}`;

/** Where the host says it itself the answer stays as it is kept, with what the browser keeps beside it. */
function alone(kept: Response): Response {
  const { body, status, statusText, headers } = kept;
  if (headers.has("Cross-Origin-Embedder-Policy")) return kept;
  const more = new Headers(headers);
  for (const [name, value] of [["Opener", "same-origin"], ["Embedder", "require-corp"]]) more.set(`Cross-Origin-${name}-Policy`, value!);
  return new Response(body, { status, statusText, headers: more });
}

worker.addEventListener("install", (event) => event.waitUntil(caches.open(CACHE).then((cache) => cache.addAll(FILES.map((file) => new Request(file, { cache: "reload", headers: { Accept: file === "/" ? "text/html" : "*/*" } }))))));

worker.addEventListener("activate", (event) =>
  event.waitUntil(caches.keys().then((names) => Promise.all(names.filter((name) => name !== CACHE).map((name) => caches.delete(name)))).then(() => worker.clients.claim())));

worker.addEventListener("message", (event) => event.data === "go" && worker.skipWaiting());

worker.addEventListener("fetch", (event) => {
  const { pathname, origin } = new URL(event.request.url);
  if (event.request.method !== "GET" || origin !== location.origin || pathname.startsWith("/api/") || pathname === "/lid") return;
  const wanted = event.request.mode === "navigate" ? "/" : pathname;
  event.respondWith(caches.open(CACHE).then(async (cache) => {
    const kept = await cache.match(wanted, { ignoreVary: true, ignoreSearch: true });
    return kept ? alone(kept) : fetch(event.request);
  }));
});
