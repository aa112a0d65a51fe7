// What a phone has no room for at once is folded there (data-fold) and open where there is room; without scripts it is open.
// A part that comes anew after a reading stays as a person left it.
let open = !matchMedia("(max-width: 30rem)").matches;
const set = () => document.querySelectorAll("details[data-fold]").forEach((one) => { one.open = open; });

export function startFolded() {
  set();
  document.addEventListener("toggle", ({ target }) => { if (target.matches("[data-fold]")) ({ open } = target); }, true);
  document.addEventListener("htmx:oobAfterSwap", set);
}
