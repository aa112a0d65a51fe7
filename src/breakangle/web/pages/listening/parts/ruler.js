// A ruler of cents with the reading as a band: as wide as it is unsure, so it narrows while the string rings.
const SVG = "http://www.w3.org/2000/svg";
const LEFT = 24;
const LEAST_APART = 46;
const REACHES = [[10, 1, 5], [20, 2, 10], [60, 5, 20], [120, 10, 40], [400, 50, 200]];
const MINUS = "\u2212";

function put(parent, name, attributes, text) {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  if (text !== undefined) made.textContent = text;
  parent.append(made);
  return made;
}

const signed = (cents) => (cents < 0 ? `${MINUS}${-cents}` : cents > 0 ? `+${cents}` : "0");

export class Ruler {
  constructor(svg) {
    this.svg = svg;
    const size = Math.max(240, Math.round(svg.getBoundingClientRect().width));
    svg.setAttribute("viewBox", `0 0 ${size} 92`);
    this.width = size - 2 * LEFT;
    this.draw(REACHES[1]);
  }

  x(cents) {
    return LEFT + this.width / 2 + (cents / this.reach) * (this.width / 2);
  }

  draw([reach, small, large]) {
    this.reach = reach;
    const step = [large, 2 * large, reach].find((one) => (one / reach) * (this.width / 2) >= LEAST_APART);
    this.svg.replaceChildren();
    this.band = put(this.svg, "rect", { class: "ruler-band", y: 12, height: 36, x: 0, width: 0, rx: 4 });
    put(this.svg, "path", { class: "ruler-line", d: `M${LEFT} 48H${LEFT + this.width}` });
    let ticks = "";
    for (let cents = -reach; cents <= reach; cents += small) {
      const long = cents % step === 0;
      ticks += `M${this.x(cents).toFixed(1)} 48v${long ? 12 : 6}`;
      if (long) put(this.svg, "text", { class: "ruler-number", x: this.x(cents).toFixed(1), y: 76, "text-anchor": "middle" }, signed(cents));
    }
    put(this.svg, "path", { class: "ruler-line", d: ticks });
    put(this.svg, "path", { class: "ruler-zero", d: `M${this.x(0)} 4V62` });
    put(this.svg, "text", { class: "ruler-word", x: LEFT, y: 90 }, this.svg.dataset.flat);
    put(this.svg, "text", { class: "ruler-word", x: LEFT + this.width, y: 90, "text-anchor": "end" }, this.svg.dataset.sharp);
    this.mark = put(this.svg, "path", { class: "ruler-mark", d: "" });
  }

  show(cents, uncertainty) {
    if (cents === null) return this.clear();
    const size = Math.abs(cents) + uncertainty;
    const now = REACHES.find(([reach]) => reach === this.reach);
    if (size > this.reach || size < 0.3 * this.reach) {
      const fit = REACHES.find(([reach]) => size <= 0.9 * reach) ?? REACHES.at(-1);
      if (fit !== now) this.draw(fit);
    }
    const at = this.x(Math.max(-this.reach, Math.min(this.reach, cents)));
    const half = Math.max(2, (uncertainty / this.reach) * (this.width / 2));
    this.band.setAttribute("x", (at - half).toFixed(1));
    this.band.setAttribute("width", (2 * half).toFixed(1));
    this.mark.setAttribute("d", `M${at.toFixed(1)} 6V48`);
    return undefined;
  }

  clear() {
    this.band.setAttribute("width", 0);
    this.mark.setAttribute("d", "");
  }
}
