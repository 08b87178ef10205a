// What is wrong with a cell, beside the cell.

import { make, words } from "./dom.js";
import { formulaParts } from "./row-view.js";

/** @typedef {import("./grid.js").Grid} Grid */

export class Note {
  /** @param {Grid} grid @param {HTMLElement} floats @param {import("./row-view.js").Around} around */
  constructor(grid, floats, around) {
    this.grid = grid;
    this.floats = floats;
    this.around = around;
    this.element = make("div", { class: "beside", id: "cell-note", role: "status", hidden: true });
    floats.append(this.element);
    this.shown = "";
    /** @type {HTMLElement|null} */
    this.described = null;
  }

  /** Shows what the active cell has to tell, if anything. */
  update() {
    const here = this.grid.cell();
    // Offered names come first: the note waits until they are gone.
    const offered = this.floats.querySelector(".offers:not([hidden])") !== null;
    const told = here && !offered ? this.told(here.view, here.cell) : null;
    const target = told && here ? (here.element.querySelector("input") ?? here.element) : null;
    if (this.described !== target) this.described?.removeAttribute("aria-describedby");
    this.described = target;
    if (!told || !here || !target) {
      this.shown = "";
      this.element.hidden = true;
      return;
    }
    target.setAttribute("aria-describedby", this.element.id);
    const key = JSON.stringify([here.view.row.id, here.cell.field, told]);
    if (key !== this.shown) this.element.replaceChildren(...this.parts(told));
    this.shown = key;
    this.element.hidden = false;
    this.place(here.element);
  }

  /** @param {import("./row-view.js").RowView} view @param {import("./cells.js").Cell} cell */
  told(view, cell) {
    if (cell.field === null) return null;
    const refusal = this.around.refusal(view.row.id, cell.field === "kind" ? "given" : cell.field);
    if (refusal) return { typed: refusal.text, message: refusal.message, hint: null, formula: null, from: null, to: null };
    const problem = this.around.store.problemAt(view.row.id, cell.field)
      ?? (cell.sort === "kind" ? this.around.store.problemAt(view.row.id, "given") : null);
    if (!problem) return null;
    return { typed: null, message: problem.message, hint: problem.hint, formula: view.busy ? cell.raw : null, from: problem.from, to: problem.to };
  }

  /** @param {{ typed: string|null, message: string, hint: string|null, formula: string|null, from: number|null, to: number|null }} told */
  parts(told) {
    const parts = [];
    if (told.formula !== null && told.from !== null) parts.push(make("p", {}, ...formulaParts(told.formula, told)));
    if (told.typed !== null) parts.push(make("p", {}, "Not taken: ", words(told.typed)));
    parts.push(make("p", { class: "message" }, words(told.message)));
    if (told.hint) parts.push(make("p", {}, words(told.hint)));
    return parts;
  }

  /** @param {HTMLElement} cell */
  place(cell) {
    placeBelow(this.element, cell, this.floats);
  }
}

/**
 * Below a cell or, without room there, above it; and within the page.
 * @param {HTMLElement} element
 * @param {HTMLElement} cell
 * @param {HTMLElement} floats
 */
export function placeBelow(element, cell, floats) {
  const at = cell.getBoundingClientRect();
  const origin = floats.getBoundingClientRect();
  const host = floats.parentElement?.getBoundingClientRect();
  const least = Math.max(0, host?.left ?? 0) + 1;
  const most = Math.min(document.documentElement.clientWidth, host?.right ?? Infinity) - element.offsetWidth - 4;
  element.style.left = `${Math.max(least, Math.min(at.left, most)) - origin.left}px`;
  const floor = Math.min(innerHeight, host?.bottom ?? innerHeight);
  const above = at.bottom + element.offsetHeight + 4 > floor && at.top - element.offsetHeight > 40;
  element.style.top = `${(above ? at.top - element.offsetHeight - 2 : at.bottom + 2) - origin.top}px`;
}
