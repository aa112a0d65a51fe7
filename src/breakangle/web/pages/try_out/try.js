// The figure beside each control follows it at once; the drawings come from the bench.
import { startDragged } from "../../frontend/src/drawings/dragged.js";

const controls = document.querySelector("#controls");
const inch = 25.4;
const written = (digits) => new Intl.NumberFormat(undefined, { minimumFractionDigits: digits, maximumFractionDigits: digits });
const finely = { 2: written(2), 3: written(3), 4: written(4) };
// As the bench writes them (model/measure.py): inches that a thousandth is too coarse for get one place more.
const smallMm = 0.1;

controls?.addEventListener("input", (event) => {
  const shown = controls.querySelector(`[data-of="${CSS.escape(event.target.name)}"]`);
  if (!shown) return;
  const mm = Number(event.target.value);
  const small = mm !== 0 && Math.abs(mm) < smallMm;
  const [unit, per, digits] = shown.dataset.units === "inch" ? ["in", inch, small ? 4 : 3] : ["mm", 1, 2];
  shown.textContent = `${finely[digits].format(mm / per)} ${unit}`;
});

if (controls) startDragged(controls);
