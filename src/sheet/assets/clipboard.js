// Blocks as tab-separated text: out, in, and filled down.

import { together } from "./step.js";

/** @typedef {import("./grid.js").Grid} Grid */
/** @typedef {import("./types.js").SetEdit} SetEdit */
/** @typedef {{ edits: SetEdit[], passed: number }} Change passed: cells that cannot be changed */

/** @param {Grid} grid */
export function copied(grid) {
  return grid.chosen().map(({ cells, left, right }) => {
    /** @type {string[]} */
    const row = [];
    for (const cell of cells) {
      row.push(quoted(cell.raw));
      // A cell over several columns leaves the rest of them empty, so that columns stay under one another.
      const further = Math.min(cell.start + cell.width - 1, right) - Math.max(cell.start, left);
      for (let i = 0; i < further; i += 1) row.push("");
    }
    return row.join("\t");
  }).join("\n");
}

/** @param {string} text */
const quoted = (text) => (/[\t\n\r"]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text);

/** @param {string} text @returns {string[][]} */
export function table(text) {
  /** @type {string[][]} */
  const rows = [[]];
  const pattern = /("(?:[^"]|"")*"|[^\t\r\n]*)(\t|\r?\n|$)/gy;
  for (let found = pattern.exec(text); found; found = pattern.exec(text)) {
    const [all, field = "", end = ""] = found;
    const plain = /^".*"$/s.test(field) ? field.slice(1, -1).replaceAll('""', '"') : field;
    rows[rows.length - 1]?.push(plain);
    if (end === "" || all === "") break;
    if (end !== "\t") rows.push([]);
  }
  const last = rows[rows.length - 1];
  if (rows.length > 1 && (!last || last.join("") === "")) rows.pop();
  return rows;
}

/** @param {Grid} grid @param {string} text @returns {Change} */
export function pasted(grid, text) {
  const block = table(text);
  const chosen = grid.chosen();
  const single = block.length === 1 && block[0]?.length === 1 ? (block[0][0] ?? "") : null;
  if (single !== null) return filled(grid, () => single);
  const top = Math.min(grid.active.row, grid.corner.row);
  const left = chosen[0]?.left ?? grid.active.column;
  /** @type {Change} */
  const change = { edits: [], passed: 0 };
  block.forEach((values, down) => {
    const view = grid.rows[top + down];
    values.forEach((value, right) => {
      const cell = view?.cells.find((one) => one.start === left + right);
      // The empty places behind a wide cell are no loss.
      if (view && cell) put(change, view.row, cell, value.trim());
      else if (value !== "") change.passed += 1;
    });
  });
  return change;
}

/** The first row of the block into all below it. @param {Grid} grid @returns {Change} */
export function filledDown(grid) {
  const chosen = grid.chosen();
  const [first, ...rest] = chosen;
  if (!first) return { edits: [], passed: 0 };
  // A single row takes what stands above it.
  const source = rest.length > 0 ? first.view : grid.rows[Math.min(grid.active.row, grid.corner.row) - 1];
  const targets = rest.length > 0 ? rest : [first];
  /** @type {Change} */
  const change = { edits: [], passed: 0 };
  for (const { view, cells } of targets) {
    for (const cell of cells) {
      const above = source?.cells.find((one) => one.start === cell.start);
      if (above && sameField(above.field, cell.field)) put(change, view.row, cell, above.raw);
      else change.passed += 1;
    }
  }
  return change;
}

/** @param {Grid} grid @param {() => string} value @returns {Change} */
export function filled(grid, value) {
  /** @type {Change} */
  const change = { edits: [], passed: 0 };
  for (const { view, cells } of grid.chosen()) for (const cell of cells) put(change, view.row, cell, value());
  return change;
}

/** @param {string|null} a @param {string|null} b */
const sameField = (a, b) => a === b || (a?.startsWith("parameter.") === true && b?.startsWith("parameter.") === true);

/**
 * @param {Change} change
 * @param {import("./types.js").Row} row
 * @param {import("./cells.js").Cell} cell
 * @param {string} value
 */
function put(change, row, cell, value) {
  if (cell.raw === value) {
    // Said to stay: neither is it led by its neighbour.
    change.edits = change.edits.filter((edit) => edit.row !== row.id || edit.field !== cell.field);
    return;
  }
  if (cell.field === null || cell.field === "name") {
    change.passed += 1;
    return;
  }
  if (cell.field === "kind") {
    if (value.includes("=")) change.edits.push({ op: "set", row: row.id, field: "given", value });
    else change.passed += 1;
    return;
  }
  const edits = together(row, cell.field, value);
  // A figure that stands in the block itself is not led by another.
  for (const edit of edits) {
    const at = change.edits.findIndex((other) => other.row === edit.row && other.field === edit.field);
    if (at < 0) change.edits.push(edit);
    else if (edit.field === cell.field) change.edits[at] = edit;
  }
}
