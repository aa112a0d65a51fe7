// Ticks, amounts, the focus and what is unfolded outlive a plan that is worked out anew under a person's hands: a reading
// answered late would take them away, and a tick set again would then store the planned amount for the one that was made.
const AMOUNTS = ["turns", "mm", "degrees"];
const adjuster = (text) => JSON.stringify(Object.entries(JSON.parse(text)).filter(([name]) => !AMOUNTS.includes(name)));

const lines = (plan) => [...plan.querySelectorAll("input[name^='step:']")].map((one) => {
  const number = one.name.slice("step:".length), { elements } = one.form;
  return { text: one.value, of: adjuster(one.value), tick: elements[`done:${number}`], amount: elements[`amount:${number}`] };
});

const unfolded = (plan) => [...plan.querySelectorAll("details[open] > summary")].map((one) => one.textContent);
const entersLate = (plan) => [...plan.querySelectorAll("[name=before], [name=on]")].some((one) => one.value && one.value !== one.defaultValue && !one.matches("[type=hidden]"));

function kept(plan) {
  const now = document.activeElement;
  const touched = lines(plan).map(({ text, of, tick, amount }) => ({
    text, of, ticked: tick?.checked, typed: amount?.value.trim() ? amount.value : "",
    focus: now === tick ? "tick" : now === amount ? "amount" : "",
  }));
  return { touched: touched.filter((one) => one.ticked || one.typed || one.focus), open: unfolded(plan) };
}

// A tick says that the line was done as it stood: where its amount has changed, it is to be looked at again.
function restore(plan, { touched, open }) {
  for (const one of plan.querySelectorAll("details > summary")) if (open.includes(one.textContent)) one.parentElement.open = true;
  let left = lines(plan);
  for (const one of touched) {
    const line = left.find((each) => each.text === one.text) ?? left.find((each) => each.of === one.of);
    if (!line) continue;
    left = left.filter((each) => each !== line);
    if (one.ticked && line.text === one.text && line.tick) line.tick.checked = true;
    if (one.typed && line.amount) {
      line.amount.value = one.typed;
      for (let box = line.amount.closest("details"); box; box = box.parentElement.closest("details")) box.open = true;
    }
    if (one.focus) line[one.focus]?.focus({ preventScroll: true });
  }
}

let before = null;
export function startLines() {
  document.addEventListener("htmx:beforeSwap", (event) => {
    if (event.detail.target?.id !== "plan") return;
    if (entersLate(event.detail.target)) event.detail.shouldSwap = false; // what is entered late is stored as it was begun
    else before = kept(event.detail.target);
  });
  document.addEventListener("htmx:afterSwap", (event) => {
    if (event.detail.target?.id !== "plan" || !before) return;
    restore(event.detail.target, before);
    before = null;
  });
}
