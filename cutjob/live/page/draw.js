// Handles over a drawing: what is dragged, by pointer or by keys, and what it comes to. Lengths in mm, y upward.
// @ts-check

/** @typedef {{path: (string|number)[], name: string, at: number[], way: number[], per: number, value: number, step: number, typed: string}} Handle */
/** @typedef {{path: (string|number)[], name: string, pins: number[][], half: number, height: number, upright: boolean, foot: number}} Pins */
/** @typedef {{item: string, part: string, svg: string, left: number, bottom: number, width: number, height: number, text: number, handles: Handle[], pins: Pins[], whole: boolean}} Drawing */

const INCH = 25.4;

/** A text made safe for HTML. @param {unknown} text */
export function safe(text) {
  return String(text).replace(/[&<>"']/g, one => ({ "&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;", "'": "&#39;" })[one] || one);
}

/** A length as a tape shows it, without its unit. @param {number} mm @param {string} unit */
export function onTape(mm, unit) {
  if (unit === "mm") { return String(Math.round(mm * 10) / 10); }
  const parts = Math.round(mm / INCH * 64), sign = parts < 0 ? "-" : "";
  let over = Math.abs(parts) % 64, under = 64;
  const whole = (Math.abs(parts) - over) / 64;
  while (over && over % 2 === 0) { over /= 2; under /= 2; }
  if (!over) { return sign + whole; }
  return sign + (whole ? `${whole} ` : "") + `${over}/${under}`;
}

/** Rounded to steps. @param {number} value @param {number} step */
export function stepped(value, step) {
  return Math.round(value / step) * step;
}

/** A number without rounding's last digits. @param {number} value */
export function plain(value) {
  return Number(value.toFixed(4));
}

/** The handles over a drawing, as SVG. @param {Drawing} drawing @param {string} unit */
export function overlay(drawing, unit) {
  const r = drawing.text * 0.75, X = (/** @type {number} */ x) => plain(drawing.left + x), Y = (/** @type {number} */ y) => plain(drawing.bottom - y);
  let out = "";
  const size = drawing.text * 0.85, taken = /** @type {number[][]} */ ([]);
  /** Words by a point, one line lower for as long as they would overprint others. A letter is 0.6 of its height wide, about. */
  const label = (/** @type {string} */ words, /** @type {string} */ anchor, /** @type {number} */ x, /** @type {number} */ y, /** @type {string} */ more) => {
    const wide = words.length * 0.6 * size, left = anchor === "start" ? x : anchor === "end" ? x - wide : x - wide / 2;
    while (taken.some(([a, b, w]) => left < a + w && a < left + wide && Math.abs(y - b) < 1.15 * size)) { y += 0.6 * size; }
    taken.push([left, y, wide]);
    return `<text class="l-measure"${more} text-anchor="${anchor}" font-size="${plain(size)}" stroke-width="${plain(drawing.text / 5)}" x="${plain(x)}" y="${plain(y)}">${safe(words)}</text>`;
  };
  drawing.pins.forEach((edge, number) => {
    const way = edge.pins.map(pin => placeOf(edge, pin));
    const line = edge.upright ? way : [...way.slice(1).reverse().map(([x, y]) => [-x, y]), ...way];
    out += `<polyline class="l-strip" points="${line.map(([x, y]) => `${X(x)},${Y(y)}`).join(" ")}"/>`;
    edge.pins.forEach((pin, place) => {
      const [x, y] = placeOf(edge, pin);
      const words = pinWords(edge, pin, unit);
      if (x > 1e-6 && !edge.upright) {
        out += `<circle class="l-mirror" data-pins="${number}" data-pin="${place}" data-side="-1" cx="${X(-x)}" cy="${Y(y)}" r="${plain(r * 0.8)}"/>`;
      }
      out += `<circle class="l-handle l-pin" tabindex="0" role="slider" aria-label="${safe(edge.name)}, pin ${place + 1}" aria-valuemin="0" aria-valuemax="1" aria-valuenow="${plain(pin[1])}" aria-valuetext="${safe(words)}" data-pins="${number}" data-pin="${place}" data-side="1" cx="${X(x)}" cy="${Y(y)}" r="${plain(r)}" stroke-width="${plain(r / 4)}"/>`;
      const above = edge.name === "top" || edge.upright;
      out += label(words, edge.upright ? "start" : "middle", X(x) + (edge.upright ? 1.4 * r : 0), Y(y) + (above ? -1.5 : 2.2) * r, "");
    });
  });
  drawing.handles.forEach((handle, place) => {
    const [x, y] = handle.at;
    out += `<circle class="l-handle" tabindex="0" role="slider" aria-label="${safe(handle.name.replaceAll("_", " "))}" aria-valuenow="${plain(handle.value)}" aria-valuetext="${safe(handle.typed)}" data-handle="${place}" cx="${X(x)}" cy="${Y(y)}" r="${plain(r)}" stroke-width="${plain(r / 3)}"/>`;
    // Beside the point, towards the middle; above it where a curve's pins have their own words beside.
    const above = drawing.pins.length > 0 && !drawing.whole, end = X(x) > 0.7 * drawing.width && (above || drawing.whole);
    const beside = end ? (above ? 0 : -1.4) : 1.4;
    out += label(`${handle.name.replaceAll("_", " ")} ${handle.typed}`, end ? "end" : "start", X(x) + beside * r, Y(y) - (above ? 3.4 : 1.2) * r, ` data-of="${place}"`);
  });
  return `<svg class="l-over" viewBox="0 0 ${plain(drawing.width)} ${plain(drawing.height)}" role="group" aria-label="${safe(drawing.part)}: handles">${out}</svg>`;
}

/** Where a pin is on the drawing. @param {Pins} edge @param {number[]} pin */
export function placeOf(edge, pin) {
  return edge.upright ? [pin[1] * edge.half, edge.foot + pin[0] * edge.height] : [pin[0] * edge.half, pin[1] * edge.height];
}

/** Where a pin is, as measured from the centre line and the lower edge; up a piece, how long a rod is there. @param {Pins} edge @param {number[]} pin @param {string} unit */
export function pinWords(edge, pin, unit) {
  const [x, y] = placeOf(edge, pin);
  return edge.upright ? onTape(2 * x, unit) : `${onTape(x, unit)}, ${onTape(y, unit)}`;
}

/** The pin that stands where it is dragged to: the ends keep their place along. @param {Pins} edge @param {number} place @param {number} x @param {number} y */
export function movedPin(edge, place, x, y) {
  const last = edge.pins.length - 1, free = place > 0 && place < last;
  const along = edge.upright ? (y - edge.foot) / edge.height : x / edge.half, up = edge.upright ? x / edge.half : y / edge.height;
  const low = free ? edge.pins[place - 1][0] + 0.02 : 0, high = free ? edge.pins[place + 1][0] - 0.02 : 1;
  const kept = free ? Math.min(high, Math.max(low, along)) : edge.pins[place][0];
  return [plain(stepped(kept, 0.01)), plain(stepped(Math.min(1, Math.max(0, up)), 0.01))];
}

/** Pins with one more, in the widest space between two. @param {number[][]} pins */
export function oneMore(pins) {
  let widest = 0;
  for (let i = 1; i + 1 < pins.length; i++) {
    if (pins[i + 1][0] - pins[i][0] > pins[widest + 1][0] - pins[widest][0]) { widest = i; }
  }
  const [a, b] = [pins[widest], pins[widest + 1]];
  const between = [plain((a[0] + b[0]) / 2), plain((a[1] + b[1]) / 2)];
  return [...pins.slice(0, widest + 1), between, ...pins.slice(widest + 1)];
}

/** Where a pointer is on an SVG, in its own units. @param {SVGSVGElement} svg @param {PointerEvent|MouseEvent} event */
export function onSvg(svg, event) {
  const way = svg.getScreenCTM();
  if (!way) { return [0, 0]; }
  const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(way.inverse());
  return [at.x, at.y];
}

/** A place of a board in a part's own frame: the part was mirrored, turned, then shifted. @param {{at: number[], turned: number, mirrored: boolean}} part @param {number[]} place */
export function inPart(part, place) {
  const x = place[0] - part.at[0], y = place[1] - part.at[1], turn = part.turned * Math.PI / 180;
  const u = x * Math.cos(turn) + y * Math.sin(turn), v = -x * Math.sin(turn) + y * Math.cos(turn);
  return [part.mirrored ? -u : u, v];
}

/** The nearest points on outlines to a place, by walking along their paths. @param {SVGGeometryElement[]} outlines @param {number[]} place */
export function nearestOn(outlines, place) {
  let best = place, least = Infinity;
  for (const one of outlines) {
    const whole = one.getTotalLength(), steps = Math.max(60, Math.ceil(whole / 2));
    for (let i = 0; i <= steps; i++) {
      const at = one.getPointAtLength(whole * i / steps), far = (at.x - place[0]) ** 2 + (at.y - place[1]) ** 2;
      if (far < least) { least = far; best = [at.x, at.y]; }
    }
  }
  return best;
}
