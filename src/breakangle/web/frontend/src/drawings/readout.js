// Charts that can be read out: a pointer over the chart, or an arrow key on it, marks the nearest visit or point and
// writes its figures below, as the reader writes numbers and dates. The points lie in the drawing's data-points.

const SVG = "http://www.w3.org/2000/svg";
const chart = "svg[data-points]";
const day = new Intl.DateTimeFormat(undefined, { dateStyle: "medium" });
const states = new WeakMap();

// A day or a number with decimals; whole numbers (a sheet, a fret, a percentage) are the same to everybody.
const figures = /\b(\d{4})-(\d{2})-(\d{2})\b|\b\d+\.(\d+)\b/g;

const shown = (words) => words.replace(figures, (found, year, month, date, decimals) => (year
  ? day.format(new Date(year, month - 1, date))
  : new Intl.NumberFormat(undefined, {
    minimumFractionDigits: decimals.length, maximumFractionDigits: decimals.length,
  }).format(found)));

// Points that stand above each other belong to one visit, or to one relief: they are read out together.
function together(points) {
  const columns = new Map();
  for (const one of points) columns.set(one.x, [...(columns.get(one.x) ?? []), one]);
  return [...columns.values()].sort((a, b) => a[0].x - b[0].x);
}

function told(column) {
  let before = null;
  const parts = column.map(({ words }) => {
    const [head, rest] = words.split(/: (.*)/s);
    const again = head === before && rest !== undefined;
    before = head;
    return again ? rest : words;
  });
  return shown(parts.join("; "));
}

function line(svg) {
  const figure = svg.closest("figure") ?? svg.parentElement;
  let found = figure.querySelector("[data-readout]");
  if (!found) {
    found = document.createElement("p");
    found.dataset.readout = "";
    found.className = "readout";
    found.setAttribute("aria-live", "polite");
    (svg.closest(".wide") ?? svg).after(found);
  }
  return found;
}

function state(svg) {
  if (!states.has(svg)) states.set(svg, { columns: together(JSON.parse(svg.dataset.points)), at: null });
  return states.get(svg);
}

function element(name, values) {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(values)) made.setAttribute(key, value);
  return made;
}

function mark(svg, at) {
  const one = state(svg);
  if (!one.columns.length || one.at === at) return;
  one.at = at;
  const column = one.columns[at];
  const height = svg.viewBox.baseVal.height;
  one.marker?.remove();
  one.marker = element("g", { class: "dr-readout", "aria-hidden": "true", fill: "none", stroke: "currentColor" });
  one.marker.append(
    element("path", { d: `M${column[0].x} 0V${height}`, "stroke-dasharray": "2 4" }),
    ...column.map(({ x, y }) => element("circle", { cx: x, cy: y, r: 7, "stroke-width": 2.5 })),
  );
  svg.append(one.marker);
  line(svg).textContent = told(column);
}

function nearest(svg, clientX) {
  const box = svg.getBoundingClientRect();
  const { columns } = state(svg);
  const x = ((clientX - box.left) / box.width) * svg.viewBox.baseVal.width;
  const off = columns.map(([first]) => Math.abs(first.x - x));
  return off.indexOf(Math.min(...off));
}

function point(event) {
  const svg = event.target.closest?.(chart);
  if (svg && state(svg).columns.length) mark(svg, nearest(svg, event.clientX));
}

function step(event) {
  const svg = event.target.closest?.(chart);
  if (!svg || event.ctrlKey || event.metaKey || event.altKey) return;
  const { columns, at } = state(svg);
  const last = columns.length - 1;
  const to = {
    ArrowRight: at === null ? 0 : at + 1, ArrowUp: at === null ? 0 : at + 1,
    ArrowLeft: at === null ? last : at - 1, ArrowDown: at === null ? last : at - 1,
    Home: 0, End: last,
  }[event.key];
  if (to === undefined || last < 0) return;
  event.preventDefault();
  mark(svg, Math.max(0, Math.min(last, to)));
}

function ready(within) {
  const found = [...within.querySelectorAll(chart)];
  if (within.matches?.(chart)) found.push(within);
  for (const svg of found) {
    svg.setAttribute("tabindex", "0");
    line(svg);
  }
}

export function startReadouts() {
  ready(document);
  document.body.addEventListener("htmx:load", (event) => ready(event.detail.elt));
  document.addEventListener("pointermove", point, { passive: true });
  document.addEventListener("pointerdown", point, { passive: true });
  document.addEventListener("keydown", step);
}
