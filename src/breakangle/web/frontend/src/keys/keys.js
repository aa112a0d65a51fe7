// Keys and foot pedal. Moving stores nothing: Enter, Page Down and Page Up go from box to box where a page has boxes
// (data-box), else along its links (data-next, data-back). A letter or digit presses what carries it as data-key, or,
// where pressing would store, puts the focus there and no more. Storing is Ctrl+Enter (doing.js).
import { doing, foot, putBack, takeBack } from "./doing.js";
import { stores, typing } from "./places.js";

// What is folded takes no focus, though it has a place on the page.
const seen = (one) => (one.checkVisibility ? one.checkVisibility() : one.offsetParent !== null);
const boxes = () => [...document.querySelectorAll("[data-box]:not([disabled])")].filter(seen);
const ways = { next: "a[data-next], button[type=button][data-next]", back: "a[data-back], button[type=button][data-back]" };
const way = (name) => [...document.querySelectorAll(ways[name])].find((one) => one.offsetParent !== null);

function step(from, by) {
  const all = boxes();
  const at = all.indexOf(from);
  const found = all[at + by] ?? (by > 0 ? document.querySelector("[data-after]") : null);
  if (!found) return false;
  // What stores is shown, and the focus stays in the last box: the next Enter would press it.
  if (!stores(found)) found.focus();
  found.select?.();
  found.scrollIntoView({ block: "center", behavior: "auto" });
  return true;
}

function move(event, by) {
  const target = event.target;
  // In a box of several lines Enter begins the next line.
  if (event.key === "Enter" && !event.ctrlKey && !event.metaKey && target.matches?.("textarea")) return;
  if (target.matches?.("[data-box]")) {
    event.preventDefault();
    if (event.repeat) return; // one press is one move, however long it is held
    target.dispatchEvent(new Event("change", { bubbles: true }));
    step(target, by);
    return;
  }
  if (document.querySelector("dialog[open]") || target.matches?.("textarea")) return;
  if (event.key === "Enter" && target !== document.body && target.id !== "main") return enterIn(event, target);
  const link = way(by > 0 ? "next" : "back");
  const all = boxes();
  if (!link && !all.length) return; // the page scrolls
  event.preventDefault();
  if (event.repeat) return;
  if (link) link.click();
  else all[by > 0 ? 0 : all.length - 1].focus();
}

// A box to tick or a slider would send its form, which nobody asked for; a button or a box of text sends it once.
function enterIn(event, target) {
  const form = target.form;
  if (form?.method === "post" && (event.repeat || target.matches("input[type=checkbox], input[type=radio], input[type=range], select"))) event.preventDefault();
}

function press(event) {
  if (event.defaultPrevented) return;
  if (foot(event)) return;
  if (event.ctrlKey || event.metaKey) return chord(event);
  if (event.altKey) return;
  if (event.key === "PageDown" || event.key === "Enter") return move(event, 1);
  if (event.key === "PageUp") return move(event, -1);
  if (typing(event.target) || document.querySelector("dialog[open]")) return;
  if (event.key === "?") return showKeys();
  const found = document.querySelector(`[data-key="${CSS.escape(event.key)}"]`);
  if (!found) return;
  event.preventDefault();
  if (event.repeat) return;
  if (found.matches("input:not([type=checkbox]), textarea, select") || stores(found)) {
    found.focus();
    found.scrollIntoView({ block: "nearest", behavior: "auto" });
  } else found.click();
}

function chord(event) {
  if (document.querySelector("dialog[open]")) return;
  const key = event.key.toLowerCase();
  if (key === "enter" && !event.shiftKey) doing(event, () => move(event, 1));
  else if ((key === "z" && event.shiftKey) || key === "y") putBack(event);
  else if (key === "z") takeBack(event);
}

function row(key, words) {
  const term = document.createElement("dt");
  const kbd = document.createElement("kbd");
  kbd.textContent = key;
  term.append(kbd);
  const told = document.createElement("dd");
  told.textContent = words;
  return [term, told];
}

function showKeys() {
  const list = document.querySelector("#keys-list");
  const { next, previous, help, does, undo, redo, then, foot: footWords } = list.dataset;
  const rows = [row("Enter, Page Down", next), row("Page Up", previous)];
  const main = document.querySelector("[data-do]");
  const said = (one) => (one.getAttribute("aria-label") || one.placeholder || one.labels?.[0]?.textContent || one.textContent).trim().replace(/\s+/g, " ");
  if (main) rows.push(row("Ctrl Enter", `${does} ${said(main).replace(/\s*Ctrl Enter$/, "")}`));
  if (main?.dataset.foot) rows.push(row(main.dataset.foot, footWords));
  if (document.querySelector("[data-undo-last]")) rows.push(row("Ctrl Z", undo));
  if (document.querySelector("[data-redo-last]")) rows.push(row("Ctrl Y", redo));
  rows.push(row("?", help));
  for (const one of document.querySelectorAll("[data-key]")) rows.push(row(one.dataset.key, stores(one) ? `${said(one)} (${then})` : said(one)));
  list.replaceChildren(...rows.flat());
  document.querySelector("#keys").showModal();
}

export function startKeys() {
  document.addEventListener("keydown", press);
  document.querySelector("#keys-button")?.addEventListener("click", showKeys);
}
