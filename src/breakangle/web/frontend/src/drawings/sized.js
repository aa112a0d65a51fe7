// Drawings ask for the width that they have, so that their text keeps its size on a phone and on a wide screen.
// What carries data-sized sends the width of its box (or of the box it names) with every request as `wide`, and is
// asked again, by the event `resized`, where a drawing that is there was made for quite another width.

const least = 100;
const much = 1.2;

const box = (one) => (one.dataset.sized && document.querySelector(one.dataset.sized)) || one;

export function room(one) {
  const place = box(one);
  const style = getComputedStyle(place);
  return Math.floor(place.clientWidth - parseFloat(style.paddingLeft) - parseFloat(style.paddingRight));
}

function misfit(one) {
  const drawn = box(one).querySelector("svg.drawing");
  if (!drawn || room(one) < least) return false;
  const wide = Math.max(320, Math.min(1200, room(one)));
  if (one.dataset.asked === String(wide)) return false;
  const made = drawn.viewBox.baseVal.width;
  if (made <= wide * much && made * much >= wide) return false;
  one.dataset.asked = String(wide);
  return true;
}

function askAgain() {
  for (const one of document.querySelectorAll("[data-sized]")) {
    if (misfit(one)) one.dispatchEvent(new Event("resized"));
  }
}

export function startSizes() {
  document.body.addEventListener("htmx:configRequest", ({ detail }) => {
    const one = detail.elt.closest?.("[data-sized]");
    const wide = one ? room(one) : 0;
    if (wide >= least) detail.parameters.wide = String(wide);
  });
  let waiting = 0;
  const soon = () => {
    clearTimeout(waiting);
    waiting = setTimeout(askAgain, 150);
  };
  addEventListener("resize", soon);
  if (document.readyState === "complete") soon();
  else addEventListener("load", soon);
}
