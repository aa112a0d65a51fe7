// Marks drawn over a photograph with a finger, pen or mouse: kept as lines of points, each a share of width and height.
const holder = document.querySelector("#drawn-on[data-may-draw]");
const field = document.querySelector("#marks");
const FEWEST_MOVE = 0.004;
const MOST = { lines: 40, points: 4000 };
const ROUND = 24;
let lines = [];
let current = null;

function read() {
  try { return JSON.parse(field.value || "[]"); } catch { return []; }
}

function polyline(points, name) {
  const line = document.createElementNS("http://www.w3.org/2000/svg", "polyline");
  line.setAttribute("points", points.map(([x, y]) => `${Math.round(x * 1000)},${Math.round(y * 1000)}`).join(" "));
  if (name) line.setAttribute("class", name);
  return line;
}

function show() {
  const drawing = holder.querySelector("svg");
  const all = current ? [...lines, current.points] : lines;
  drawing.replaceChildren(...all.flatMap((points) => [polyline(points, "rim"), polyline(points)]));
  const count = document.querySelector("#mark-count");
  const words = [count.dataset.none, count.dataset.one][lines.length] ?? count.dataset.many;
  count.textContent = words.replace("{count}", lines.length);
}

function keep() {
  field.value = lines.length ? JSON.stringify(lines) : "";
  show();
}

function place(event) {
  const box = holder.querySelector("img").getBoundingClientRect();
  const share = (value, from, size) => Math.min(Math.max((value - from) / size, 0), 1);
  const round = (value) => Math.round(value * 1000) / 1000;
  return [round(share(event.clientX, box.left, box.width)), round(share(event.clientY, box.top, box.height))];
}

// A circle from its middle to where the finger is, as a closed line: round on the picture, however wide that is.
function circle([x, y], [toX, toY]) {
  const box = holder.querySelector("img").getBoundingClientRect();
  const radius = Math.max(Math.hypot((toX - x) * box.width, (toY - y) * box.height), 12);
  const inside = (value) => Math.round(Math.min(Math.max(value, 0), 1) * 1000) / 1000;
  return Array.from({ length: ROUND + 1 }, (_, step) => {
    const angle = (2 * Math.PI * step) / ROUND;
    return [inside(x + (radius * Math.cos(angle)) / box.width), inside(y + (radius * Math.sin(angle)) / box.height)];
  });
}

function start(event) {
  const points = lines.reduce((sum, line) => sum + line.length, 0);
  if (event.button !== 0 || lines.length >= MOST.lines || points >= MOST.points) return;
  event.preventDefault();
  holder.setPointerCapture(event.pointerId);
  const at = place(event);
  const tool = document.querySelector("input[name=tool]:checked").value;
  current = { at, tool, points: tool === "circle" ? circle(at, at) : [at] };
  show();
}

function draw(event) {
  if (!current) return;
  const at = place(event);
  if (current.tool === "circle") current.points = circle(current.at, at);
  else {
    const [x, y] = current.points.at(-1);
    if (Math.hypot(at[0] - x, at[1] - y) >= FEWEST_MOVE) current.points.push(at);
  }
  show();
}

function end() {
  if (!current) return;
  if (current.points.length > 1) lines.push(current.points);
  current = null;
  keep();
}

if (holder) {
  lines = read();
  document.querySelector("#draw").hidden = false;
  holder.addEventListener("pointerdown", start);
  holder.addEventListener("pointermove", draw);
  holder.addEventListener("pointerup", end);
  holder.addEventListener("pointercancel", () => { current = null; show(); });
  holder.querySelector("img").addEventListener("dragstart", (event) => event.preventDefault());
  document.querySelector("#mark-undo").addEventListener("click", () => { lines.pop(); keep(); });
  document.querySelector("#mark-clear").addEventListener("click", () => { lines = []; keep(); });
  show();
}
