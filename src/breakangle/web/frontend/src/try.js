// The figure beside each control follows it at once; the drawings come from the bench.
const controls = document.querySelector("#controls");
const inch = 25.4;

controls?.addEventListener("input", (event) => {
  const shown = controls.querySelector(`[data-of="${CSS.escape(event.target.name)}"]`);
  if (!shown) return;
  const [unit, per, digits] = shown.dataset.units === "inch" ? ["in", inch, 3] : ["mm", 1, 2];
  const number = new Intl.NumberFormat(undefined, { minimumFractionDigits: digits, maximumFractionDigits: digits });
  shown.textContent = `${number.format(Number(event.target.value) / per)} ${unit}`;
});
