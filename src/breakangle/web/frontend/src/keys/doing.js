// Doing is deliberate: Ctrl+Enter presses the page's main storing button (data-do); where it has lines to tick and none
// is ticked (data-first), it is the first line that is stored. Ctrl+Z takes the last stored thing back, Ctrl+Y puts it
// back again. A shop may name a second key of its pedal (data-foot): its first press shows what is about to be stored,
// its second, a second later or more, stores it. A key that repeats by being held counts for nothing.
import { typing } from "./places.js";

const REST_MS = 1000, FORGOTTEN_MS = 20000;
const EDITING = ["ArrowLeft", "ArrowRight", "ArrowUp", "ArrowDown", "Home", "End"];
const main = () => document.querySelector("[data-do]:not([disabled])");
let armed = null;

const lines = (button) => (button.hasAttribute("data-first") ? [...button.form.querySelectorAll("input[type=checkbox]")] : []);
const ticked = (button) => lines(button).filter((one) => one.checked);

function store(button) {
  const all = lines(button);
  if (all.length && !ticked(button).length) all[0].checked = true;
  button.click();
}

function disarm() {
  if (!armed) return;
  armed.button.classList.remove("armed");
  const place = document.querySelector("#about-to");
  if (place) place.textContent = "";
  armed = null;
}

function arm(button) {
  disarm();
  armed = { button, at: performance.now() };
  button.classList.add("armed");
  const what = (ticked(button).length ? ticked(button) : lines(button).slice(0, 1)).map((one) => one.dataset.about).join("; ");
  const place = document.querySelector("#about-to");
  if (place) place.textContent = place.dataset.words.replace("%s", what || button.dataset.about);
  place?.scrollIntoView({ block: "nearest", behavior: "auto" });
}

// Whether the key was the pedal's second one.
export function foot(event) {
  const button = main();
  const key = button?.dataset.foot;
  if (!key || event.key !== key || event.ctrlKey || event.metaKey || event.altKey || event.shiftKey) {
    disarm();
    return false;
  }
  if (document.querySelector("dialog[open]") || (typing(event.target) && EDITING.includes(key))) return false;
  event.preventDefault();
  if (event.repeat) return true;
  const rested = armed?.button === button ? performance.now() - armed.at : 0;
  if (rested >= REST_MS && rested < FORGOTTEN_MS) {
    disarm();
    store(button);
  } else arm(button);
  return true;
}

// A reading that is typed and not sent yet goes before: then Ctrl+Enter is Enter. Any other box of text goes with its form.
export function doing(event, enter) {
  const target = event.target;
  const reading = target.matches?.("[data-reading]");
  if (reading && target.value.trim() !== target.dataset.was) return enter();
  const button = main();
  if (!button || (typing(target) && !reading && target.form !== button.form)) return;
  event.preventDefault();
  if (!event.repeat) store(button);
}

function pressed(event, what) {
  const button = document.querySelector(what);
  if (typing(event.target) || !button) return;
  event.preventDefault();
  if (!event.repeat) button.click();
}

export const takeBack = (event) => pressed(event, "[data-undo-last]");
export const putBack = (event) => pressed(event, "[data-redo-last]");

export function startDoing() {
  document.addEventListener("pointerdown", disarm);
  addEventListener("pagehide", disarm);
}
