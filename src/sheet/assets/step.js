// One way of a figure, from the first key to the last: what goes together with it, and how all of it comes back.

import { looksNumeric, toNumber } from "./wording.js";

/** @typedef {import("./types.js").Row} Row */
/** @typedef {import("./types.js").SetEdit} SetEdit */

export class Step {
  /** @param {Row} row as it was before @param {string} id */
  constructor(row, id) {
    this.row = row;
    this.id = id;
    /** Fields changed so far, with what stood there. @type {Map<string, string>} */
    this.touched = new Map();
  }

  /**
   * The edits that make a field this value; what an earlier value of the step led along comes back.
   * @param {string} field
   * @param {string} value
   */
  edits(field, value) {
    const edits = together(this.row, field, value);
    const now = new Set(edits.map((edit) => edit.field));
    for (const [other, before] of this.touched) if (!now.has(other)) edits.push(setting(this.row, other, before));
    for (const other of now) if (!this.touched.has(other)) this.touched.set(other, valueOf(this.row, other) ?? "");
    return edits;
  }

  /** The edits that bring back what was. */
  restoring() {
    return [...this.touched].map(([field, before]) => setting(this.row, field, before));
  }
}

/** Parameters that say about how much, as the base value does. */
const MIDDLES = ["mode", "mean", "median"];

/**
 * Where the middle of the spread and base were one figure they stay one, and the ends of the range make room for it.
 * @param {Row} row
 * @param {string} field
 * @param {string} value
 * @returns {SetEdit[]}
 */
export function together(row, field, value) {
  const own = setting(row, field, value);
  const middle = row.parameters.find(({ name }) => MIDDLES.includes(name));
  if (middle === undefined || !row.base_editable || !sameFigure(row.base, middle.value)) return [own];
  const led = `parameter.${middle.name}`;
  if (field !== "base" && field !== led) return [own];
  return [own, setting(row, field === "base" ? led : "base", value), ...endsFor(row, value)];
}

/** @param {Row} row @param {string} value */
function endsFor(row, value) {
  if (!looksNumeric(value)) return [];
  const wanted = toNumber(value);
  return row.parameters
    .filter((end) => (end.name === "min" && wanted < end.value) || (end.name === "max" && wanted > end.value))
    .map(({ name }) => setting(row, `parameter.${name}`, value));
}

/** @param {Row} row @param {string} field @param {string} value @returns {SetEdit} */
const setting = (row, field, value) => ({ op: "set", row: row.id, field, value });

/** What a field holds. @param {Row} row @param {string} field @returns {string|null} */
function valueOf(row, field) {
  const parameter = row.parameters.find(({ name }) => `parameter.${name}` === field);
  if (parameter) return String(parameter.value);
  const value = row[/** @type {keyof Row} */ (field)];
  return typeof value === "string" ? value : null;
}

/** @param {string|null} text @param {number} value */
function sameFigure(text, value) {
  return text !== null && Number(text.replace(/[\s,\u202f\u00a0_]/g, "")) === value;
}
