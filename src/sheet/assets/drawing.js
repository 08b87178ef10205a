// The small picture of a spread, with a handle for each end and the middle.

import { draw, setAll } from "./dom.js";
import { sameShape } from "./same.js";
import { calledOf, inSteps, parameterWords, stepFor } from "./wording.js";

/** @typedef {import("./types.js").Row} Row */
/** @typedef {(row: string, parameter: string, value: string, phase: "move"|"end"|"cancel") => void} Moved */

const WIDTH = 132;
const HEIGHT = 36;
const EDGE = 12;
const FLOOR = 27;

export class Drawing {
  /** @param {Moved} moved @param {() => import("./types.js").View} view */
  constructor(moved, view) {
    this.moved = moved;
    this.view = view;
    this.curve = draw("path", { class: "curve" });
    this.floor = draw("path", { class: "floor", d: `M0 ${FLOOR}H${WIDTH}` });
    this.element = draw("svg", { class: "spread", viewBox: `0 0 ${WIDTH} ${HEIGHT}`, width: WIDTH, height: HEIGHT, role: "group" },
      this.curve, this.floor);
    /** @type {SVGGElement[]} */
    this.handles = [];
    /** @type {Row|null} */
    this.row = null;
    /** @type {[number, number]} */
    this.range = [0, 1];
    this.held = false;
    /** Where a handle is that the program has not yet answered. @type {import("./types.js").Handle|null} */
    this.ahead = null;
    this.element.addEventListener("pointerdown", (event) => this.grasp(event));
    this.element.addEventListener("keydown", (event) => this.key(event));
    this.element.addEventListener("focusout", () => this.release());
  }

  /** @param {Row} row */
  show(row) {
    const before = this.row;
    this.row = row;
    if (this.ahead && row.handles.some(({ at, parameter }) => at === this.ahead?.at && parameter === this.ahead.parameter)) this.ahead = null;
    if (before === row || (before && before.label === row.label && before.unit === row.unit && sameShape(before, row))) return;
    if (!this.held) this.range = rangeOf(row);
    this.curve.setAttribute("d", curveOf(row.shape, (x) => this.place(x)));
    if (before === null || before.label !== row.label) this.element.setAttribute("aria-label", `Spread of ${calledOf(row)}`);
    this.placeHandles(row);
  }

  /** @param {Row} row */
  placeHandles(row) {
    while (this.handles.length > row.handles.length) this.handles.pop()?.remove();
    row.handles.forEach((handle, index) => {
      const group = this.handles[index] ?? this.newHandle(index);
      const at = this.ahead?.parameter === handle.parameter ? this.ahead.at : handle.at;
      const x = Math.max(EDGE / 2, Math.min(WIDTH - EDGE / 2, this.place(at)));
      setAll(group, {
        transform: `translate(${x.toFixed(1)} ${FLOOR})`,
        "aria-label": `${parameterWords(handle.parameter, row.kind, this.view())}, ${calledOf(row)}`,
        "aria-valuenow": at, "aria-valuetext": row.unit ? `${at} ${row.unit}` : String(at),
      });
    });
  }

  /**
   * Moves a handle before the program has answered.
   * @param {Row} row
   * @param {string} parameter
   * @param {string} text
   */
  lead(row, parameter, text) {
    this.ahead = { at: Number(text), parameter };
    this.placeHandles(row);
    this.moved(row.id, parameter, text, "move");
  }

  /** @param {number} index */
  newHandle(index) {
    const group = draw("g", { class: "handle", role: "slider", tabindex: -1, "data-index": index },
      draw("rect", { class: "grip", x: -12, y: -16, width: 24, height: 25 }),
      draw("path", { class: "knob", d: "M0 -3L5 7H-5Z" }));
    this.handles.push(group);
    this.element.append(group);
    return group;
  }

  /** @param {number} x */
  place(x) {
    const [low, high] = this.range;
    return EDGE + ((x - low) / (high - low)) * (WIDTH - 2 * EDGE);
  }

  /** @param {PointerEvent} event */
  grasp(event) {
    const index = this.nearest(event);
    const row = this.row;
    const handle = row?.handles[index];
    if (!row || !handle || event.button !== 0) return;
    event.preventDefault();
    event.stopPropagation();
    this.held = true;
    this.handles[index]?.focus();
    this.element.setPointerCapture(event.pointerId);
    const step = stepFor(this.range[1] - this.range[0]);
    let text = String(handle.at);
    const move = (/** @type {PointerEvent} */ to) => {
      const next = inSteps(this.valueAt(to), step);
      if (next === text) return;
      text = next;
      this.lead(this.row ?? row, handle.parameter, text);
    };
    const end = () => {
      this.element.removeEventListener("pointermove", move);
      this.held = false;
      this.moved(row.id, handle.parameter, text, "end");
      this.again();
    };
    this.element.addEventListener("pointermove", move);
    this.element.addEventListener("lostpointercapture", end, { once: true });
  }

  /** @param {PointerEvent} event */
  valueAt(event) {
    const box = this.element.getBoundingClientRect();
    const share = ((event.clientX - box.left) / box.width * WIDTH - EDGE) / (WIDTH - 2 * EDGE);
    return this.range[0] + share * (this.range[1] - this.range[0]);
  }

  /** Where handles lie on one another the pointer's side decides. @param {PointerEvent} event */
  nearest(event) {
    const at = this.valueAt(event);
    let best = -1;
    let least = Infinity;
    this.row?.handles.forEach((handle, index) => {
      const far = Math.abs(handle.at - at) + (at > handle.at ? 0 : 1e-9 * Math.abs(at));
      if (far <= least) [best, least] = [index, far];
    });
    return best;
  }

  /** @param {KeyboardEvent} event */
  key(event) {
    const index = this.handles.indexOf(/** @type {SVGGElement} */ (event.target));
    const row = this.row;
    const handle = row?.handles[index];
    if (!row || !handle) return;
    const ways = { ArrowLeft: -1, ArrowDown: -1, ArrowRight: 1, ArrowUp: 1, PageDown: -10, PageUp: 10 };
    const way = ways[/** @type {keyof typeof ways} */ (event.key)];
    if (way !== undefined && !event.altKey && !event.ctrlKey) {
      this.held = true;
      const step = stepFor(this.range[1] - this.range[0]);
      const from = this.ahead?.parameter === handle.parameter ? this.ahead.at : handle.at;
      this.lead(row, handle.parameter, inSteps(from + way * step * (event.shiftKey ? 10 : 1), step));
    } else if (event.key === "Tab" && this.handles[index + (event.shiftKey ? -1 : 1)]) {
      this.handles[index + (event.shiftKey ? -1 : 1)]?.focus();
    } else if (event.key === "Escape") {
      this.ahead = null;
      this.moved(row.id, handle.parameter, "", "cancel");
    } else return;
    event.preventDefault();
    event.stopPropagation();
  }

  release() {
    const row = this.row;
    if (!this.held || !row) return;
    this.held = false;
    this.moved(row.id, "", "", "end");
    this.again();
  }

  /** Draws anew in the range that the figures have now. */
  again() {
    const row = this.row;
    this.ahead = null;
    this.row = null;
    if (row) this.show(row);
  }
}

/** @param {Row} row @returns {[number, number]} */
function rangeOf(row) {
  const all = [...row.shape.map(([x]) => x), ...row.handles.map((handle) => handle.at)].filter(Number.isFinite);
  const low = Math.min(...all);
  const high = Math.max(...all);
  if (!(high > low)) return [low - 1, low + 1];
  const room = (high - low) * 0.06;
  return [low - room, high + room];
}

/** @param {[number, number][]} shape @param {(x: number) => number} place */
function curveOf(shape, place) {
  const top = Math.max(...shape.map(([, density]) => density));
  const [first] = shape;
  const last = shape[shape.length - 1];
  if (!first || !last || !(top > 0)) return "";
  const points = shape.map(([x, density]) => `L${place(x).toFixed(1)} ${(FLOOR - (density / top) * (FLOOR - 3)).toFixed(1)}`);
  return `M${place(first[0]).toFixed(1)} ${FLOOR}${points.join("")}L${place(last[0]).toFixed(1)} ${FLOOR}Z`;
}
