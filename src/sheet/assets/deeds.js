// What the keys and buttons of the grid do.

import { filled, filledDown } from "./clipboard.js";
import { openKinds } from "./kind-editor.js";
import { Step } from "./step.js";

/** @typedef {import("./sheet.js").Sheet} Sheet */
/** @typedef {import("./types.js").Edit} Edit */
/** @typedef {import("./clipboard.js").Change} Change */

/** @param {Sheet} sheet @param {string|null} typed */
export function openCell(sheet, typed) {
  const here = sheet.grid.cell();
  if (!here || sheet.editor.active) return;
  const { view, cell, element } = here;
  if (cell.sort === "drawing") return focusHandle(sheet, element);
  if (cell.sort === "kind" && sheet.store.state) return openKind(sheet, view, cell, element);
  if (cell.field === null) return sheet.tell(fixedWords(sheet, cell.sort));
  sheet.editor.start(view, cell, element, typed);
}

/** @param {Sheet} sheet @param {import("./cells.js").Cell["sort"]} sort */
function fixedWords(sheet, sort) {
  if (sort === "text" && sheet.view === "first") return "This can be changed with the workings shown.";
  return sort === "number" ? "This is worked out from other rows." : "This is worked out, not typed.";
}

/** @param {Sheet} sheet @param {HTMLElement} element */
function focusHandle(sheet, element) {
  const handle = element.querySelector(".handle");
  if (handle instanceof SVGElement) handle.focus();
  else sheet.tell("This spread has no handles.");
}

/**
 * @param {Sheet} sheet
 * @param {import("./row-view.js").RowView} view
 * @param {import("./cells.js").Cell} cell
 * @param {HTMLElement} element
 */
function openKind(sheet, view, cell, element) {
  view.busy = element;
  element.classList.add("open");
  sheet.refusals.forgive(view.row.id, "given");
  openKinds(element, view.row, {
    kinds: sheet.store.state?.kinds ?? [], view: sheet.view, label: view.nameOf(cell),
    chosen: (value) => sheet.edit([{ op: "set", row: view.row.id, field: "given", value }]),
    written: () => sheet.editor.start(view, { ...cell, sort: "text", field: "given" }, element, null),
    leave: (way) => sheet.leave(way),
    closed: (refocus) => {
      element.classList.remove("open");
      view.settle();
      if (refocus) element.focus({ preventScroll: true });
    },
  });
}

/** @param {Sheet} sheet @param {Change} change @param {string} what */
export function makeChange(sheet, change, what) {
  if (change.edits.length > 0) sheet.edit(change.edits);
  const passed = change.passed === 0 ? "" : change.passed === 1 ? " One cell cannot be changed and was left." : ` ${change.passed} cells cannot be changed and were left.`;
  const count = change.edits.length === 0 ? "Nothing to change." : `${what}.`;
  sheet.tell(count + passed);
}

/** @param {Sheet} sheet */
export function clearCells(sheet) {
  const change = filled(sheet.grid, () => "");
  // A parameter cannot be absent: only what may be missing is taken out.
  const optional = change.edits.filter((edit) => edit.op === "set" && /^(label|group|unit|source|as_of|note|base)$/.test(edit.field));
  makeChange(sheet, { edits: optional, passed: change.passed + change.edits.length - optional.length }, "Cleared");
}

/** @param {Sheet} sheet */
export const fillDown = (sheet) => makeChange(sheet, filledDown(sheet.grid), "Filled down");

/** @param {Sheet} sheet @param {1|-1} way */
export function moveRow(sheet, way) {
  const row = sheet.grid.cell()?.view.row;
  if (!row || sheet.view === "first") return;
  const rows = (sheet.store.state?.rows ?? []).filter(({ section }) => section === row.section);
  const at = rows.findIndex(({ id }) => id === row.id);
  const to = at + way;
  if (to < 0 || to >= rows.length) return sheet.tell("It stands at the end of its part.");
  const before = (way < 0 ? rows[to] : rows[to + 1])?.id ?? null;
  sheet.edit([{ op: "move", row: row.id, before }], () => {
    sheet.grid.jump(row.id);
    sheet.tell(`Now row ${to + 1} of ${rows.length} in its part.`);
  });
}

/** @param {Sheet} sheet */
export function addRow(sheet) {
  const state = sheet.store.state;
  const row = sheet.grid.cell()?.view.row;
  if (!state || sheet.view === "first") return;
  const taken = new Set([...state.rows, ...state.names].map(({ name }) => name));
  let name = "new_row";
  for (let n = 2; taken.has(name); n += 1) name = `new_row_${n}`;
  const section = row?.section ?? "inputs";
  sheet.edit([{ op: "add", section, after: row?.id ?? null, name, label: "New row" }], () => {
    if (sheet.grid.jump(`${section}.${name}`, "name")) openCell(sheet, null);
  });
}

/** @param {Sheet} sheet */
export function deleteRows(sheet) {
  if (sheet.view === "first") return;
  const rows = sheet.grid.chosen().map(({ view }) => view.row);
  if (rows.length === 0) return;
  /** @type {Edit[]} */
  const edits = rows.map(({ id }) => ({ op: "delete", row: id }));
  sheet.edit(edits, () => {
    sheet.grid.go(sheet.grid.active);
    sheet.tell(rows.length === 1 ? "Row deleted; Undo brings it back." : `${rows.length} rows deleted; Undo brings them back.`);
  });
}

/** Handles of small drawings: one step of undo for one way of a handle. */
export class Handling {
  /** @param {Sheet} sheet */
  constructor(sheet) {
    this.sheet = sheet;
    this.key = "";
    /** @type {Step|null} */
    this.held = null;
  }

  /** @type {import("./drawing.js").Moved} */
  moved = (id, parameter, value, phase) => {
    const row = this.sheet.store.rows.get(id);
    if (!row) return;
    if (phase === "move") {
      const key = `${id} ${parameter}`;
      if (this.held === null || this.key !== key) this.held = new Step(row, this.sheet.newStep());
      this.key = key;
      this.sheet.edit(this.held.edits(`parameter.${parameter}`, value), undefined, this.held.id);
      return;
    }
    const held = this.held;
    this.held = null;
    if (phase !== "cancel") return;
    if (held) this.sheet.edit(held.restoring(), undefined, held.id);
    this.sheet.grid.go(this.sheet.grid.active);
  };
}
