// What was sent and refused is in its boxes again when the browser goes back to the page it was typed on.
const place = () => `typed:${location.pathname}${location.search}`;
const inBox = (box) => box.name && box.type !== "hidden" && box.type !== "file" && !box.matches("button");

function keep(event) {
  const form = event.target;
  if (form.method !== "post" || form.id === "readings" || form.enctype === "multipart/form-data") return;
  const boxes = [...form.elements].filter(inBox).map((box) => [box.name, box.matches("[type=checkbox], [type=radio]") ? box.checked : box.value]);
  sessionStorage.setItem(place(), JSON.stringify({ at: [...document.forms].indexOf(form), boxes }));
}

function fill({ at, boxes }) {
  const form = document.forms[at];
  const there = form ? [...form.elements].filter(inBox) : [];
  if (there.length !== boxes.length || there.some((box, index) => box.name !== boxes[index][0])) return;
  there.forEach((box, index) => {
    if (typeof boxes[index][1] === "boolean") box.checked = boxes[index][1];
    else box.value = boxes[index][1];
  });
  form.closest("details")?.setAttribute("open", "");
  const first = there.find((box) => box.value !== box.defaultValue && !box.matches("select"));
  first?.focus();
}

// Back from a refusal as the browser goes back.
function goBack(event) {
  if (!event.target.closest?.("[data-undone]") || history.length < 2) return;
  event.preventDefault();
  history.back();
}

export function startTyped() {
  const kept = sessionStorage.getItem(place());
  sessionStorage.removeItem(place());
  if (kept && performance.getEntriesByType("navigation")[0]?.type === "back_forward") fill(JSON.parse(kept));
  document.addEventListener("submit", keep);
  document.addEventListener("click", goBack);
}
