// What stands in the cells of a row: text, the field an edit sets, and where it may be changed.

import { COLUMNS, PARAMETERS } from "./columns.js";
import { calledOf, kindWords, parameterWords } from "./wording.js";

/** @typedef {import("./types.js").Row} Row */
/** @typedef {import("./types.js").RowAnswer} RowAnswer */
/** @typedef {import("./types.js").View} View */

/**
 * @typedef {object} Cell
 * @property {"text"|"number"|"parameter"|"formula"|"kind"|"drawing"|"span"|"figure"} sort
 * @property {number} start column
 * @property {number} width columns
 * @property {string} key
 * @property {string|null} field null: not to be edited
 * @property {string} text shown
 * @property {string} raw edited and copied
 * @property {string} small beside the text: a unit, the name of a parameter
 */

/**
 * @param {Row} row
 * @param {RowAnswer} figures
 * @param {View} view
 * @returns {Cell[]}
 */
export function cellsOf(row, figures, view) {
  const cells = view === "first" ? firstCells(row) : workingCells(row, figures);
  let start = 0;
  for (const cell of cells) {
    cell.start = start;
    start += cell.width;
  }
  return cells;
}

/** @param {Row} row @returns {Cell[]} */
function firstCells(row) {
  return [
    cell("text", "label", null, calledOf(row)),
    { ...cell("number", "base", row.base_editable ? "base" : null, row.base ?? ""), small: row.unit ?? "" },
    ...spreadCells(row, "first"),
  ];
}

/** @param {Row} row @param {RowAnswer} figures @returns {Cell[]} */
function workingCells(row, figures) {
  return [
    cell("text", "name", "name", row.name),
    cell("text", "label", "label", row.label ?? ""),
    cell("number", "base", row.base_editable ? "base" : null, row.base ?? ""),
    ...(row.formula !== null ? [wide(cell("formula", "kind", "formula", row.formula), 6)] : spreadCells(row, "workings")),
    cell("text", "unit", "unit", row.unit ?? ""),
    cell("figure", "p10", null, figures.p10 ?? ""),
    cell("figure", "p50", null, figures.p50 ?? ""),
    cell("figure", "p90", null, figures.p90 ?? ""),
    cell("span", "span", null, figures.span ?? ""),
    cell("text", "source", "source", row.source ?? ""),
    cell("text", "as_of", "as_of", row.as_of ?? ""),
    cell("text", "note", "note", row.note ?? ""),
    cell("text", "group", row.section === "inputs" || row.section === "paths" ? "group" : null, row.group ?? ""),
  ];
}

/** Kind, parameters and drawing; or the text as given where it is no simple spread. @param {Row} row @param {View} view @returns {Cell[]} */
function spreadCells(row, view) {
  const places = PARAMETERS[view];
  const kind = kindCell(row, view);
  if (row.kind === "value") return [kind, wide(cell("text", "p0", null, ""), places + 1)];
  const { parameters } = row;
  if (parameters.length === 0 || parameters.length > places) {
    const given = cell("text", "p0", view === "first" ? null : "given", row.given ?? "");
    if (view === "first") given.text = plainList(given.raw);
    if (row.shape.length === 0) return [kind, wide(given, places + 1)];
    return [kind, wide(given, places), drawing(row)];
  }
  const values = parameters.map((parameter, place) => ({
    ...cell("parameter", `p${place}`, `parameter.${parameter.name}`, String(parameter.value)),
    small: parameterWords(parameter.name, row.kind, view),
  }));
  const last = values[values.length - 1];
  if (last) last.width = places - values.length + 1;
  return [kind, ...values, drawing(row)];
}

/** @param {Row} row @param {View} view @returns {Cell} */
const kindCell = (row, view) => ({ ...cell("kind", "kind", "kind", kindWords(row.kind, view)), raw: row.given ?? row.kind ?? "" });

/** @param {Row} row @returns {Cell} */
const drawing = (row) => ({ ...cell("drawing", "drawing", null, ""), raw: row.given ?? "" });

/**
 * @param {Cell["sort"]} sort
 * @param {string} key
 * @param {string|null} field
 * @param {string} text
 * @returns {Cell}
 */
const cell = (sort, key, field, text) => ({ sort, key, field, text, raw: text, small: "", start: 0, width: 1 });

/** @param {Cell} one @param {number} width @returns {Cell} */
const wide = (one, width) => ({ ...one, width });

/**
 * The values of `choice = [a, b]` as one would say them.
 * @param {string} given
 */
function plainList(given) {
  const list = /\[([^\[\]]*)\]/.exec(given);
  if (!list) return given.includes("=") ? "set out in the workings" : given;
  const values = (list[1] ?? "").split(",").map((value) => value.trim()).filter(Boolean);
  return values.length > 1 ? `${values.slice(0, -1).join(", ")} or ${values[values.length - 1]}` : values.join("");
}

/** Heading over a column, for what names a cell. @param {View} view @param {number} at */
export function headingOf(view, at) {
  const columns = COLUMNS[view];
  for (let i = Math.min(at, columns.length - 1); i >= 0; i -= 1) {
    const heading = columns[i]?.heading;
    if (heading) return heading;
  }
  return "";
}
