// The boxes of readings: each is kept on this device, sent, and answered beside itself.
import htmx from "htmx.org";
import { add, listen, refusals, startQueue, tab, waiting } from "../../frontend/src/offline/queue.js";
import { startLines } from "../plan/lines.js";

const form = () => document.querySelector("#readings");
const told = (key) => document.querySelector(`#told-${CSS.escape(key)}`);
const box = (key) => document.querySelector(`#in-${CSS.escape(key)}`);
const here = () => new URL(form().dataset.one, location.href).pathname;

function mark(key, words, kind = "") {
  const tag = document.createElement("span");
  tag.className = `tag ${kind}`;
  tag.textContent = words;
  told(key)?.replaceChildren(tag);
}

function typed(input) {
  const key = input.dataset.reading, text = input.value.trim();
  if (text === input.dataset.was) return;
  const seen = input.dataset.seen;
  input.dataset.was = text;
  mark(key, form().dataset.sending);
  const again = input.dataset.again ?? "";
  delete input.dataset.again;
  add(here(), { box: key, text, seen, again });
}

// An answer tells of every place that the page of readings has; other pages have a few of them.
function onThisPage(html) {
  const part = document.createElement("template");
  part.innerHTML = html;
  for (const each of part.content.querySelectorAll("[hx-swap-oob]")) if (!document.getElementById(each.id)) each.remove();
  return part.innerHTML;
}

function show(input, item, answer) {
  const key = input.dataset.reading, place = told(key);
  const refused = answer.status >= 400;
  const later = input.value.trim() !== item.fields.text;
  input.toggleAttribute("aria-invalid", refused);
  if (refused) {
    input.setAttribute("aria-invalid", "true");
    if (item.fields.again) input.dataset.again = item.fields.again;
  }
  else input.dataset.seen = answer.entry ?? "";
  if (place) htmx.swap(place, onThisPage(answer.html), { swapStyle: "innerHTML" });
  input.closest(".reading")?.classList.toggle("odd", place?.querySelector(".warm") !== null);
  oddities(input);
  if (refused && !later) back(input);
}

// What was odd may be told by later readings to be right, and the other way round.
function oddities(justTyped) {
  for (const told of document.querySelectorAll(".expected[data-odd]")) {
    const reading = told.closest(".reading"), { odd } = told.dataset;
    const input = reading?.querySelector("[data-reading]"), place = reading?.querySelector(".told-box");
    if (!input || input === justTyped || input.getAttribute("aria-invalid") === "true") continue;
    reading.classList.toggle("odd", odd !== "");
    place.querySelector(".tag.odd-one")?.remove();
    if (!odd) continue;
    const tag = document.createElement("span");
    tag.className = "tag warm odd-one";
    tag.textContent = odd;
    place.append(tag);
  }
}

// A refused box gets the hand back, unless the next one has been typed into meanwhile.
function back(input) {
  const now = document.activeElement;
  input.dataset.was = "\u0000";
  if (now?.matches?.("[data-reading]") && now !== input && now.value.trim() !== now.dataset.was) return;
  input.focus();
  input.select();
}

async function answered(item, answer) {
  if (!form() || item.url !== here()) return;
  const input = box(item.fields.box);
  if (!answer) {
    for (const one of (await waiting()).filter((each) => each.url === here() && each.tab === tab)) mark(one.fields.box, form().dataset.away, "warm");
    return;
  }
  if (item.tab !== tab) return;
  if (answer.status >= 400) await refusals(here());
  if (input) show(input, item, answer);
  if (answer.status >= 300) return;
  document.body.dispatchEvent(new Event("readings-changed"));
  clearTimeout(seen);
  seen = setTimeout(seeAgain, SEEN_MS);
}

// What this device keeps of the page for when the bench does not answer should hold what was just typed.
const SEEN_MS = 700;
let seen;
function seeAgain() {
  if (navigator.serviceWorker?.controller) fetch(location.href).catch(() => {});
}

async function unsent() {
  for (const one of await waiting()) {
    const input = one.url === here() && box(one.fields.box);
    if (!input) continue;
    input.value = one.fields.text;
    input.dataset.was = one.fields.text;
    if (!one.refused) mark(one.fields.box, form().dataset.away, "warm");
  }
  for (const one of await refusals(here(), false)) {
    const input = box(one.fields.box);
    if (input) show(input, one, { status: one.status, html: one.refused });
  }
}

function choose(event) {
  const button = event.target.closest?.("[data-put], [data-keep]");
  const input = button?.closest(".reading")?.querySelector("[data-reading]");
  if (!input) return;
  input.removeAttribute("aria-invalid");
  input.dataset.seen = button.dataset.put ?? button.dataset.entry;
  if (button.dataset.put) {
    input.dataset.was = "\u0000";
    typed(input);
  } else {
    input.value = input.dataset.was = button.dataset.keep;
    told(input.dataset.reading)?.replaceChildren();
    input.closest(".reading").classList.remove("odd");
  }
  input.focus();
}

// Takes back what was stored in a box, or puts it back again; what is typed and not sent yet stays.
async function undo(event) {
  const button = event.target.closest?.("[data-undo]");
  const input = button?.closest(".reading")?.querySelector("[data-reading]");
  if (!input || button.disabled) return;
  button.disabled = true;
  const body = new URLSearchParams({ entry: button.dataset.undo });
  const headers = { "hx-request": "true" };
  const answer = await fetch(form().dataset.undo, { method: "POST", body, headers }).catch(() => null);
  if (!answer?.ok) {
    button.disabled = false;
    if (!answer) mark(input.dataset.reading, form().dataset.away, "warm");
    else htmx.swap(document.querySelector("#message"), await answer.text(), { swapStyle: "innerHTML" });
    return;
  }
  const place = told(input.dataset.reading);
  htmx.swap(place, onThisPage(await answer.text()), { swapStyle: "innerHTML" });
  const shown = place.querySelector("[data-shown]")?.dataset.shown ?? "";
  input.dataset.seen = answer.headers.get("x-entry") ?? "";
  if (input.value.trim() === input.dataset.was) input.value = shown;
  input.dataset.was = shown;
  input.closest(".reading").classList.remove("odd");
  oddities(input);
  document.body.dispatchEvent(new Event("readings-changed"));
  place.querySelector("[data-undo]")?.focus();
}

// A drawing that is drawn anew stays with the string or strength that was chosen.
function chosen(event) {
  const link = event.target.closest?.(".choices a");
  if (link) link.closest("figure").dataset.chosen = event.detail.path;
  else if (event.target.dataset?.chosen) event.detail.path = event.target.dataset.chosen;
}

document.documentElement.classList.add("scripted");
document.addEventListener("htmx:configRequest", chosen);
document.addEventListener("change", (event) => event.target.matches?.("[data-reading]") && typed(event.target));
document.addEventListener("click", choose);
document.addEventListener("click", undo);
document.addEventListener("submit", (event) => {
  if (event.target !== form()) return;
  event.preventDefault(); // each box has been sent by itself
  for (const input of document.querySelectorAll("[data-reading]")) typed(input);
});
listen(answered);
startLines();
if (form()) await unsent();
startQueue();
const first = [...document.querySelectorAll("[data-reading]")].find((one) => one.value === "");
if (first && !location.hash && document.activeElement === document.body) first.focus({ preventScroll: true });
