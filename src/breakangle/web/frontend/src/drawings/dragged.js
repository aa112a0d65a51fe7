// While a control is dragged its picture follows. The bench is asked for the pictures alone, one request at a time, and
// the next leaves as soon as the last has come, before that one is drawn: bench and browser work at once. When the
// control rests, the form hears `settled` and asks for everything, tables of figures included.
import { room } from "./sized.js";

const REST_MS = 250;
const MOVING = ".answers, svg.drawing";

function draw(place, text) {
  const made = document.createElement("template");
  made.innerHTML = text;
  const old = place.querySelectorAll(MOVING);
  for (const [index, fresh] of made.content.querySelectorAll(MOVING).entries()) {
    // What is read out to the blind stays the same element, or its changes would not be heard.
    if (fresh.matches("svg")) old[index]?.replaceWith(fresh);
    else old[index]?.replaceChildren(...fresh.childNodes);
  }
}

function address(form, place) {
  const given = new URLSearchParams(new FormData(form));
  given.set("moving", "true");
  given.set("wide", room(form));
  return `${form.action}?${given}`;
}

export function startDragged(form) {
  const place = document.querySelector(form.dataset.sized);
  let asked = null;
  let moved = false;
  let rest = 0;

  async function ask() {
    moved = false;
    const own = new AbortController();
    asked = own;
    try {
      const answer = await fetch(address(form, place), { signal: own.signal });
      const text = answer.ok ? await answer.text() : "";
      if (asked !== own) return;
      asked = null;
      if (moved) ask();
      if (text) draw(place, text);
    } catch {
      if (asked === own) asked = null; // a bench that does not answer is told of when the control rests
    }
  }

  function settle() {
    clearTimeout(rest);
    asked?.abort();
    asked = null;
    form.dispatchEvent(new Event("settled"));
  }

  form.addEventListener("input", ({ target }) => {
    if (target.type !== "range") return;
    form.dispatchEvent(new Event("htmx:abort")); // what was asked before this move would draw over it
    clearTimeout(rest);
    rest = setTimeout(settle, REST_MS);
    moved = true;
    if (!asked) ask();
  });
  form.addEventListener("change", ({ target }) => {
    if (target.type !== "range") settle();
  });
}
