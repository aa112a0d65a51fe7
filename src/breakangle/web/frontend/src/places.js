// On a phone the places of a visit stand in one line that scrolls: the one that is shown is brought into sight, and so
// is the one that gets the focus, which a browser leaves where it is when half of it is seen.
function bringIntoSight(place) {
  const line = place.parentElement;
  if (line.scrollWidth > line.clientWidth) line.scrollLeft = place.offsetLeft - (line.clientWidth - place.offsetWidth) / 2;
}

export function startPlaces() {
  for (const here of document.querySelectorAll("nav.places [aria-current], header nav [aria-current]")) bringIntoSight(here);
  document.querySelector("nav.places")?.addEventListener("focusin", (event) => event.target.matches("nav.places > a:focus-visible") && bringIntoSight(event.target));
}
