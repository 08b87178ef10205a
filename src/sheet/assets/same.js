// Whether a row that came again is as it was.

/** @typedef {import("./types.js").Row} Row */

/** @type {(keyof Row)[]} */
const PLAIN = ["id", "name", "label", "group", "unit", "base", "base_editable", "kind", "given", "formula", "p10", "p50", "p90", "span",
  "span_share", "source", "as_of", "note", "first_view"];

/** @param {Row} a @param {Row} b */
export function sameRow(a, b) {
  return PLAIN.every((key) => a[key] === b[key]) && sameParameters(a, b) && sameShape(a, b) && sameNames(a.reads, b.reads) && sameNames(a.read_by, b.read_by);
}

/** @param {Row} a @param {Row} b */
function sameParameters(a, b) {
  return a.parameters.length === b.parameters.length
    && a.parameters.every(({ name, value }, i) => name === b.parameters[i]?.name && value === b.parameters[i]?.value);
}

/** @param {Row} a @param {Row} b */
export function sameShape(a, b) {
  return a.shape.length === b.shape.length && a.handles.length === b.handles.length
    && a.shape.every((point, i) => point[0] === b.shape[i]?.[0] && point[1] === b.shape[i]?.[1])
    && a.handles.every((handle, i) => handle.at === b.handles[i]?.at && handle.parameter === b.handles[i]?.parameter);
}

/** @param {string[]} a @param {string[]} b */
const sameNames = (a, b) => a.length === b.length && a.every((name, i) => name === b[i]);
