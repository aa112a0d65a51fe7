// Pages that were seen open when the bench does not answer. Queued readings: see the readings page.
export function startOffline() {
  if ("serviceWorker" in navigator && window.isSecureContext) navigator.serviceWorker.register("/sw.js");
}
