// Keeps the built files and the pages last seen, for when the bench does not answer. While it answers, pages come from
// it and nowhere else. What is sent to the bench (POST) is never touched here. `self.BUILD` comes with the file.
const FILES = `files-${self.BUILD}`;
const PAGES = "pages";
const PARTS = "parts";
const OFFLINE = "/offline";
const MOST_PAGES = 200;
const PATIENCE_MS = 10_000;
// Never kept: who may come in, what is downloaded, and what programs ask for.
const NEVER = /^(\/example)?\/(pair|authority|api|ping|offline|sw\.js|app\.webmanifest|shop\/(devices|export\.zip|backups))(\/|$)|\.(csv|ics|zip|pdf|json)$/;
// What answers a control that is being dragged: worth nothing later, and every detour is felt.
const PASSING = /\/visits\/\d+\/try$/;

async function install() {
  const listed = await (await fetch("/static/assets.json", { cache: "no-store" })).json();
  const names = Object.values(listed).filter((name) => !name.startsWith("sw-"));
  const kept = await caches.open(FILES);
  await kept.addAll([...names.map((name) => `/static/${name}`), OFFLINE, "/app.webmanifest"]);
  await self.skipWaiting();
}

async function activate() {
  for (const name of await caches.keys()) if (![FILES, PAGES, PARTS].includes(name)) await caches.delete(name);
  await self.clients.claim();
}

async function file(request) {
  const kept = await caches.open(FILES);
  const found = await kept.match(request);
  if (found) return found;
  try {
    return await fetch(request);
  } catch (away) {
    // A page kept from an older build asks for files by their old names.
    const stem = (path) => path.replace(/-[A-Z0-9]{8}(\.\w+)$/, "$1");
    const wanted = stem(new URL(request.url).pathname);
    for (const one of await kept.keys()) if (stem(new URL(one.url).pathname) === wanted) return kept.match(one);
    throw away;
  }
}

async function keep(cache, request, answer) {
  const kept = await caches.open(cache);
  await kept.delete(request);
  await kept.put(request, answer);
  const all = await kept.keys();
  for (const one of all.slice(0, Math.max(0, all.length - MOST_PAGES))) await kept.delete(one);
}

async function forget() {
  await caches.delete(PAGES);
  await caches.delete(PARTS);
}

function told(answer) {
  const type = answer.headers.get("content-type") ?? "";
  return answer.ok && !answer.redirected && /^(text\/html|image\/)/.test(type);
}

async function awake() {
  try {
    await fetch("/ping", { cache: "no-store", redirect: "manual", signal: AbortSignal.timeout(PATIENCE_MS) });
    return true;
  } catch {
    return false;
  }
}

// Waits for as long as the bench answers at all: what it says may take a while, and an old page in its place would pass
// for what is true now. Only a bench that says nothing is left.
async function patient(request) {
  const leave = new AbortController();
  const answer = fetch(request, { signal: leave.signal });
  for (;;) {
    let bell;
    const late = new Promise((resolve) => { bell = setTimeout(resolve, PATIENCE_MS, null); });
    const first = await Promise.race([answer, late]).finally(() => clearTimeout(bell));
    if (first) return first;
    if (!await Promise.race([awake(), answer.then(() => true)])) leave.abort();
  }
}

async function page(event) {
  const { request } = event;
  const cache = request.headers.has("hx-request") ? PARTS : PAGES;
  const kept = await (await caches.open(cache)).match(request);
  try {
    const answer = await (kept ? patient(request) : fetch(request));
    // Sent to pair: this device is let in no more, and what it has seen goes.
    if (answer.status === 401 || (answer.type === "opaqueredirect" ? false : new URL(answer.url).pathname === "/pair")) event.waitUntil(forget());
    else if (told(answer)) event.waitUntil(keep(cache, request, answer.clone()));
    return answer;
  } catch (away) {
    if (kept) return kept;
    if (request.mode === "navigate") return (await caches.open(FILES)).match(OFFLINE);
    throw away;
  }
}

self.addEventListener("install", (event) => event.waitUntil(install()));
self.addEventListener("activate", (event) => event.waitUntil(activate()));
self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== location.origin) return;
  if (PASSING.test(url.pathname) && request.headers.has("hx-request")) return;
  if (url.pathname.startsWith("/static/") && !url.pathname.endsWith(".json")) event.respondWith(file(request));
  else if (!NEVER.test(url.pathname)) event.respondWith(page(event));
  else if (request.mode === "navigate") event.respondWith(fetch(request).then((answer) => {
    if (new URL(answer.url || request.url).pathname === "/pair") event.waitUntil(forget());
    return answer;
  }, async () => (await caches.open(FILES)).match(OFFLINE)));
});
