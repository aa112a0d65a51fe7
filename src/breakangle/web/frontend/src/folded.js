// What a phone has no room for at once is folded there (data-fold) and open where there is room; without scripts it is open.
const NARROW = "(max-width: 30rem)";

export function startFolded() {
  if (matchMedia(NARROW).matches) for (const one of document.querySelectorAll("details[data-fold]")) one.open = false;
}
