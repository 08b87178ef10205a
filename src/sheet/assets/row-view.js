// One row on the page. Cells are written again only where their words changed.

import { cellsOf, headingOf } from "./cells.js";
import { sameRow } from "./same.js";
import { draw, figures, make, setAll, words, write } from "./dom.js";
import { Drawing } from "./drawing.js";
import { calledOf } from "./wording.js";

/** @typedef {import("./cells.js").Cell} Cell */
/** @typedef {import("./types.js").Row} Row */
/** @typedef {import("./types.js").Problem} Problem */

/**
 * What a row needs to know of the sheet around it.
 * @typedef {object} Around
 * @property {import("./store.js").Store} store
 * @property {() => import("./types.js").View} view
 * @property {(row: string, field: string) => { message: string, text: string }|null} refusal
 * @property {(row: string) => string} wrongs all that is wrong with a row, empty if nothing is
 * @property {import("./drawing.js").Moved} moved
 */

export class RowView {
  /** @param {Row} row @param {Around} around */
  constructor(row, around) {
    this.around = around;
    this.row = row;
    /** @type {Cell[]} */
    this.cells = [];
    /** @type {HTMLElement[]} */
    this.elements = [];
    /** @type {string[]} */
    this.shown = [];
    /** @type {Drawing|null} */
    this.drawing = null;
    this.layout = "";
    /** Cell in which somebody types: not to be written over. @type {HTMLElement|null} */
    this.busy = null;
    this.element = make("div", { role: "row", class: "row", "data-row": row.id });
    /** What was wrong with the row when it was last shown. */
    this.wrongs = "";
    this.show(row);
  }

  /** Shows a row unless it is as it was. @param {Row} row */
  update(row) {
    if (sameRow(this.row, row) && this.wrongs === this.around.wrongs(row.id)) this.row = row;
    else this.show(row);
  }

  /** Shows the figures that an answer brought. */
  showFigures() {
    const figures = this.around.store.figuresOf(this.row);
    this.cells.forEach((cell, index) => {
      if (cell.sort !== "figure" && cell.sort !== "span") return;
      cell.text = cell.raw = figures[/** @type {"p10"|"p50"|"p90"|"span"} */ (cell.key)] ?? "";
      this.paint(cell, index);
    });
  }

  /** @param {Row} row */
  show(row) {
    this.row = row;
    this.wrongs = this.around.wrongs(row.id);
    if (this.element.dataset.row !== row.id) this.element.dataset.row = row.id;
    this.cells = cellsOf(row, this.around.store.figuresOf(row), this.around.view());
    const layout = this.cells.map((cell) => `${cell.sort}${cell.start}+${cell.width}${cell.field ?? ""}`).join(" ");
    if (layout !== this.layout && this.busy === null) this.build(layout);
    this.cells.forEach((cell, index) => this.paint(cell, index));
  }

  /** @param {string} layout */
  build(layout) {
    this.layout = layout;
    this.shown = [];
    this.drawing = null;
    const focused = this.elements.findIndex((element) => element === document.activeElement);
    this.elements = this.cells.map((cell) => make("div", {
      role: cell.key === (this.around.view() === "first" ? "label" : "name") ? "rowheader" : "gridcell",
      class: `cell ${cell.sort} of-${cell.key}${cell.width > 1 ? ` wide-${cell.width}` : ""}`,
      "data-start": cell.start, tabindex: -1,
      "aria-colindex": cell.start + 1, "aria-colspan": cell.width > 1 ? cell.width : null,
      "aria-haspopup": cell.sort === "kind" ? "listbox" : null,
      "aria-readonly": cell.field === null && cell.sort !== "drawing" ? "true" : null,
    }));
    this.element.replaceChildren(...this.elements);
    this.element.dispatchEvent(new CustomEvent("rebuilt", { bubbles: true, detail: focused }));
  }

  /** @param {Cell} cell @param {number} index */
  paint(cell, index) {
    const element = this.elements[index];
    if (!element || element === this.busy) return;
    if (cell.sort === "drawing") return this.paintDrawing(element);
    const wrong = this.wrongAt(cell);
    const share = cell.sort === "span" ? this.around.store.figuresOf(this.row).span_share : null;
    const shown = `${cell.text}\n${cell.small}\n${share ?? ""}\n${wrong?.message ?? ""}\n${wrong?.from ?? ""} ${wrong?.to ?? ""}`;
    if (this.shown[index] === shown) return;
    const fresh = this.shown[index] === undefined;
    this.shown[index] = shown;
    setAll(element, { "aria-invalid": wrong ? "true" : null });
    element.classList.toggle("wrong", wrong !== null);
    if (cell.sort === "formula") return element.replaceChildren(...formulaParts(cell.text, wrong));
    if (fresh) element.replaceChildren(...partsOf(cell));
    const { firstElementChild: first, lastElementChild: last } = element;
    if (!first || !last) return;
    if (cell.sort === "span") {
      first.lastElementChild?.setAttribute("width", barWidth(share));
      element.classList.toggle("none", share === null);
    }
    if (cell.sort !== "span") write(first, cell.text);
    if (cell.sort === "span" || cell.sort === "figure") write(last, cell.text);
    else write(last, cell.small);
  }

  /** @param {HTMLElement} element */
  paintDrawing(element) {
    if (this.drawing === null || this.drawing.element.parentElement !== element) {
      this.drawing = new Drawing(this.around.moved, this.around.view);
      element.replaceChildren(this.drawing.element);
    }
    this.drawing.show(this.row);
  }

  /** @param {Cell} cell @returns {{ message: string, from: number|null, to: number|null }|null} */
  wrongAt(cell) {
    if (cell.field === null) return null;
    const refusal = this.around.refusal(this.row.id, cell.field === "kind" ? "given" : cell.field);
    if (refusal) return { message: refusal.message, from: null, to: null };
    return this.around.store.problemAt(this.row.id, cell.field)
      ?? (cell.sort === "kind" ? this.around.store.problemAt(this.row.id, "given") : null);
  }

  /** The cell that covers a column. @param {number} column */
  indexAt(column) {
    const found = this.cells.findIndex((cell) => column >= cell.start && column < cell.start + cell.width);
    return found < 0 ? this.cells.length - 1 : found;
  }

  /** What a cell is called, for an editor in it. @param {Cell} cell */
  nameOf(cell) {
    const part = cell.sort === "parameter" ? cell.small : headingOf(this.around.view(), cell.start);
    return `${part}, ${calledOf(this.row)}`;
  }

  /** Lets the row write in this cell again. */
  settle() {
    const index = this.busy ? this.elements.indexOf(this.busy) : -1;
    this.busy = null;
    if (index >= 0) delete this.shown[index];
    this.show(this.row);
  }
}

/** @param {Cell} cell */
function partsOf(cell) {
  if (cell.sort === "span") return [spanBar(), figures(cell.text, "value")];
  if (cell.sort === "figure") return [figures(cell.text, "value")];
  const value = cell.sort === "number" || cell.sort === "parameter" ? figures(cell.text, "value") : words(cell.text, "value");
  return [value, words(cell.small, "small")];
}

/** @param {number|null} share */
const barWidth = (share) => (share === null ? "0" : (Math.max(0, Math.min(1, share)) * 48).toFixed(1));

function spanBar() {
  return draw("svg", { class: "bar", width: 48, height: 10, viewBox: "0 0 48 10", "aria-hidden": "true" },
    draw("rect", { class: "all", x: 0, y: 0, width: 48, height: 10 }),
    draw("rect", { class: "share", x: 0, y: 0, width: 0, height: 10 }));
}

/**
 * A formula with its wrong part marked.
 * @param {string} text
 * @param {{ from: number|null, to: number|null }|null} wrong
 * @returns {HTMLElement[]}
 */
export function formulaParts(text, wrong) {
  const code = make("code", { dir: "ltr" });
  if (!wrong || wrong.from === null || wrong.to === null) {
    code.textContent = text;
    return [code];
  }
  // What is missing at the end has no width: the last character stands for it.
  const to = Math.max(wrong.to, wrong.from + 1);
  const from = Math.min(wrong.from, Math.max(0, text.length - 1));
  const mark = make("mark", {});
  mark.textContent = text.slice(from, to);
  code.append(text.slice(0, from), mark, text.slice(to));
  return [code];
}
