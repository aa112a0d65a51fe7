// Keeps the built files and the pages last seen. Pages come from the bench while it answers.
const KEPT = "bench-1";
self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

async function answer(request) {
  const kept = await caches.open(KEPT);
  if (new URL(request.url).pathname.startsWith("/static/")) {
    const found = await kept.match(request);
    if (found) return found;
  }
  try {
    const fresh = await fetch(request);
    if (fresh.ok && !fresh.redirected) kept.put(request, fresh.clone());
    return fresh;
  } catch (away) {
    const found = await kept.match(request);
    if (found) return found;
    throw away;
  }
}

self.addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  if (event.request.method === "GET" && url.origin === location.origin) event.respondWith(answer(event.request));
});
