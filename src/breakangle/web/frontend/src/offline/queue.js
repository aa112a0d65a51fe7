// Readings wait here until the bench has answered for each: in order, none lost, none stored twice (each carries a key).
import { askBench, benchIsAway } from "./offline.js";

const STORE = "readings";
const AGAIN_MS = [1000, 2000, 5000, 10000];
const LONGEST_MS = 20000;
const listeners = new Set();
const others = "BroadcastChannel" in self ? new BroadcastChannel("bench-queue") : null;
let opened, spare = [], nextSpare = 1, busy = false, again = 0, timer, unreachable = false, started = false, more = false;

function database() {
  opened ??= new Promise((resolve) => {
    try {
      const asked = indexedDB.open("bench-queue", 1);
      asked.onupgradeneeded = () => asked.result.createObjectStore(STORE, { keyPath: "id", autoIncrement: true });
      asked.onsuccess = () => resolve(asked.result);
      asked.onerror = () => resolve(null); // a private window: keep them for as long as the page is open
    } catch {
      resolve(null);
    }
  });
  return opened;
}

async function within(mode, work) {
  const place = await database();
  if (!place) return undefined;
  return new Promise((resolve, reject) => {
    const transaction = place.transaction(STORE, mode, { durability: "strict" });
    const asked = work(transaction.objectStore(STORE));
    transaction.oncomplete = () => resolve(asked.result);
    transaction.onerror = transaction.onabort = () => reject(transaction.error);
  });
}

/** Returns everything that waits, in the order it was typed. */
export async function waiting() {
  return (await within("readonly", (store) => store.getAll())) ?? [...spare];
}

async function put(item) {
  if (await database()) return within("readwrite", (store) => store.put(item));
  item.id ??= nextSpare++;
  spare = [...spare.filter((one) => one.id !== item.id), item].sort((one, other) => one.id - other.id);
  return item.id;
}

async function drop(id) {
  spare = spare.filter((one) => one.id !== id);
  await within("readwrite", (store) => store.delete(id));
}

/** Returns a name that nothing else has, for a reading that may be sent more than once. */
export function newKey() {
  return [...crypto.getRandomValues(new Uint8Array(16))].map((one) => one.toString(16).padStart(2, "0")).join("");
}

/** This tab's own name; it outlives a reload. Two tabs on one sheet must not take each other's readings for their own. */
export const tab = (() => {
  try {
    return (sessionStorage.benchTab ??= newKey());
  } catch {
    return newKey();
  }
})();

/** Keeps what is to be posted to `url`, on the disk of this device first, and sends it. */
export async function add(url, fields) {
  await put({ url, tab, fields: { ...fields, key: newKey() } });
  again = 0;
  await tell();
  flush();
}

/** Calls `listener(item, answer)` for each that was answered; without answer: it waits. */
export function listen(listener) {
  listeners.add(listener);
}

/** Takes out of the queue what was answered with a refusal, and returns it: this tab's, or every tab's that is gone. */
export async function refusals(url, own = true) {
  const found = (await waiting()).filter((one) => one.refused && one.url === url && (!own || one.tab === tab));
  for (const one of found) await drop(one.id);
  return found;
}

async function send(item) {
  const leave = new AbortController();
  const late = setTimeout(() => leave.abort(), LONGEST_MS);
  try {
    const answer = await fetch(item.url, {
      method: "POST", headers: { "HX-Request": "true" }, body: new URLSearchParams(item.fields), signal: leave.signal,
    });
    return { status: answer.status, html: await answer.text(), entry: answer.headers.get("x-entry") };
  } finally {
    clearTimeout(late);
  }
}

// What was typed after this one over the same box replaces what this one has stored.
async function follow(item, entry) {
  for (const one of await waiting()) {
    const same = one.id !== item.id && one.tab === item.tab && one.url === item.url && one.fields.box === item.fields.box;
    if (same && one.fields.seen === item.fields.seen) await put({ ...one, fields: { ...one.fields, seen: entry } });
  }
}

async function answered(item, answer) {
  if (answer.status < 300) {
    await follow(item, answer.entry ?? "");
    await drop(item.id);
  } else {
    await put({ ...item, refused: answer.html, status: answer.status });
  }
  others?.postMessage({ item, answer });
  await heard(item, answer);
}

async function heard(item, answer) {
  for (const listener of listeners) await listener(item, answer);
}

/** Sends what waits, one after another; stops where the bench does not answer, and tries again later. */
export async function flush() {
  more = busy;
  if (busy) return;
  busy = true;
  clearTimeout(timer);
  try {
    for (;;) {
      const item = (await waiting()).find((one) => !one.refused);
      if (!item) break;
      const answer = await send(item).catch(() => null);
      // No answer, a bench in trouble, or a device that must be paired again: it waits.
      unreachable = !answer || answer.status >= 500 || [401, 403, 421].includes(answer.status);
      if (unreachable) {
        await heard(item, null);
        if (!answer) askBench();
        timer = setTimeout(flush, AGAIN_MS[Math.min(again++, AGAIN_MS.length - 1)]);
        break;
      }
      again = 0;
      await answered(item, answer);
    }
  } finally {
    busy = false;
    await tell();
    if (more && !unreachable) flush();
  }
}

async function tell() {
  const count = (await waiting()).length;
  const place = document.querySelector("#queued"), ribbon = document.querySelector("#offline");
  if (!place || !ribbon) return;
  place.textContent = count === 0 ? "" : count === 1 ? place.dataset.one : place.dataset.many.replace("{count}", count);
  ribbon.hidden = !(unreachable && count) && !benchIsAway();
}

/** Sends what an earlier page has left, now and whenever the bench answers again. */
export function startQueue() {
  if (started) return;
  started = true;
  others?.addEventListener("message", async ({ data }) => { await heard(data.item, data.answer); await tell(); });
  document.addEventListener("bench-back", () => { again = 0; flush(); });
  flush();
}
