// Whether the bench answers: a ribbon while it does not, and two events, bench-away and bench-back, for who waits for it.
const OFTEN_MS = 3000;
const SELDOM_MS = 20_000;
const PATIENCE_MS = 5000;
let away = false;
let timer = 0;

export const benchIsAway = () => away;

function show(now) {
  const ribbon = document.querySelector("#offline");
  if (ribbon) ribbon.hidden = !now;
  if (now === away) return;
  away = now;
  document.body.dataset.away = away ? "yes" : "no";
  document.dispatchEvent(new CustomEvent(away ? "bench-away" : "bench-back"));
}

export async function askBench() {
  clearTimeout(timer);
  try {
    await fetch("/ping", { cache: "no-store", redirect: "manual", signal: AbortSignal.timeout(PATIENCE_MS) });
    show(false);
  } catch {
    show(true);
  }
  timer = setTimeout(() => (document.visibilityState === "visible" || away ? askBench() : null), away ? OFTEN_MS : SELDOM_MS);
}

export function startOffline() {
  if ("serviceWorker" in navigator && window.isSecureContext) {
    navigator.serviceWorker.register("/sw.js").catch(() => {}); // without it pages are not kept; all else works
  }
  for (const name of ["online", "offline", "pageshow", "focus"]) window.addEventListener(name, askBench);
  document.addEventListener("visibilitychange", askBench);
  document.addEventListener("htmx:sendError", askBench);
  askBench();
}
