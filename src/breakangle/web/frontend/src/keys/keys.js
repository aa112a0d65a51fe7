// Keys and foot pedal. Enter or Page Down is next, Page Up is back: from box to box where a page has boxes
// (data-box), else to the page's data-next or data-back. A letter presses what carries it as data-key.

const typing = (target) => target.matches?.("input:not([type=checkbox]):not([type=radio]):not([type=range]), textarea, select, [contenteditable]");
const boxes = () => [...document.querySelectorAll("[data-box]:not([disabled])")].filter((one) => one.offsetParent !== null);

function step(from, by) {
  const all = boxes();
  const at = all.indexOf(from);
  const found = all[at + by] ?? (by > 0 ? document.querySelector("[data-after]") : null);
  if (!found) return false;
  found.focus();
  found.select?.();
  found.scrollIntoView({ block: "center", behavior: "auto" });
  return true;
}

function move(event, by) {
  const target = event.target;
  if (target.matches?.("[data-box]")) {
    event.preventDefault();
    target.dispatchEvent(new Event("change", { bubbles: true }));
    step(target, by);
    return;
  }
  if (document.querySelector("dialog[open]") || target.matches?.("textarea")) return;
  if (event.key === "Enter" && target !== document.body && target.id !== "main") return;
  const all = boxes();
  const way = document.querySelector(by > 0 ? "[data-next]" : "[data-back]");
  if (way) {
    event.preventDefault();
    way.click();
  } else if (all.length) {
    event.preventDefault();
    all[by > 0 ? 0 : all.length - 1].focus();
  }
}

function press(event) {
  if (event.ctrlKey || event.metaKey || event.altKey || event.defaultPrevented) return;
  if (event.key === "PageDown" || event.key === "Enter") return move(event, 1);
  if (event.key === "PageUp") return move(event, -1);
  if (typing(event.target) || document.querySelector("dialog[open]")) return;
  if (event.key === "?") return showKeys();
  const found = document.querySelector(`[data-key="${CSS.escape(event.key)}"]`);
  if (!found) return;
  event.preventDefault();
  if (found.matches("input, textarea, select")) found.focus();
  else found.click();
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
  const rows = [row("Enter, Page Down", list.dataset.next), row("Page Up", list.dataset.previous), row("?", list.dataset.help)];
  for (const one of document.querySelectorAll("[data-key]")) {
    const words = one.getAttribute("aria-label") || one.placeholder || one.textContent;
    rows.push(row(one.dataset.key, words.trim().replace(/\s+/g, " ")));
  }
  list.replaceChildren(...rows.flat());
  document.querySelector("#keys").showModal();
}

export function startKeys() {
  document.addEventListener("keydown", press);
  document.querySelector("#keys-button")?.addEventListener("click", showKeys);
}
