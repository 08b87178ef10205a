// Choosing how a figure is known: the kind of its spread.

import { make } from "./dom.js";
import { inSteps, kindWords, stepFor, toNumber } from "./wording.js";

/** @typedef {import("./types.js").Row} Row */
/** @typedef {import("./types.js").Kind} Kind */

/** Kinds that a first view offers. */
const PLAIN = ["pert", "triangular", "uniform", "normal"];

/** What stands in the list for the text of the study itself. */
const WRITTEN = "as written";

/**
 * Opens a list in a cell.
 * @param {HTMLElement} cell
 * @param {Row} row
 * @param {{ kinds: Kind[], view: import("./types.js").View, label: string,
 *   chosen: (given: string) => void, written: () => void, closed: (refocus: boolean) => void, leave: (way: "next"|"back") => void }} with_
 */
export function openKinds(cell, row, with_) {
  const select = make("select", { class: "editor", "aria-label": with_.label });
  for (const kind of kindsFor(row, with_.kinds, with_.view)) {
    select.append(make("option", { value: kind }, kindWords(kind, with_.view, true)));
  }
  if (with_.view === "workings") select.append(make("option", { value: WRITTEN }, "write it as text .."));
  select.value = row.kind ?? "value";
  cell.replaceChildren(select);
  let open = true;
  const close = (/** @type {boolean} */ refocus) => {
    if (!open) return;
    open = false;
    with_.closed(refocus);
  };
  select.addEventListener("change", () => {
    const kind = select.value;
    close(true);
    if (kind === WRITTEN) with_.written();
    else if (kind !== row.kind) with_.chosen(givenAs(kind, row, with_.kinds));
  });
  select.addEventListener("keydown", (event) => {
    event.stopPropagation();
    if (!["Escape", "Enter", "F2", "Tab"].includes(event.key)) return;
    event.preventDefault();
    close(true);
    if (event.key === "Tab") with_.leave(event.shiftKey ? "back" : "next");
  });
  select.addEventListener("blur", () => close(false));
  select.focus({ preventScroll: true });
  try {
    select.showPicker();
  } catch {
    // Not opened by a press: the arrows change it all the same.
  }
}

/** @param {Row} row @param {Kind[]} kinds @param {import("./types.js").View} view */
function kindsFor(row, kinds, view) {
  const known = kinds.map(({ kind }) => kind).filter((kind) => kind !== "value" && (view === "workings" || PLAIN.includes(kind)));
  const own = row.kind !== null && row.kind !== "value" && !known.includes(row.kind) ? [row.kind] : [];
  return ["value", ...own, ...known];
}

/**
 * The text for another kind, its figures near those of the present one.
 * @param {string} kind
 * @param {Row} row
 * @param {Kind[]} kinds
 */
export function givenAs(kind, row, kinds) {
  const { low, mid, high } = figuresOf(row);
  const step = stepFor(high - low);
  if (kind === "value") return `value = ${inSteps(mid, step / 1000).replace(/(\.\d*?)0+$/, "$1").replace(/\.$/, "")}`;
  const parameters = kinds.find((one) => one.kind === kind)?.parameters ?? [];
  const parts = parameters.map((name) => `${name} = ${parameterFor(name, low, mid, high, step)}`);
  return `${kind} = { ${parts.join(", ")} }`;
}

/** @param {string} name @param {number} low @param {number} mid @param {number} high @param {number} step */
function parameterFor(name, low, mid, high, step) {
  if (/^(min|low|p10|p5)$/.test(name)) return inSteps(low, step);
  if (/^(max|high|p90|p95)$/.test(name)) return inSteps(high, step);
  if (/^(sd|width|half_width)$/.test(name)) return inSteps((high - low) / 5, step);
  if (name === "shape") return "2.5";
  return inSteps(mid, step);
}

/** @param {Row} row */
function figuresOf(row) {
  const at = (/** @type {string[]} */ names) => row.parameters.find(({ name }) => names.includes(name))?.value;
  const base = row.base === null ? undefined : toNumber(row.base.replace(/(\d),(?=\d{3}(\D|$))/g, "$1"));
  const mid = at(["mode"]) ?? (base !== undefined && Number.isFinite(base) ? base : undefined) ?? at(["mean", "median", "value"]) ?? 1;
  const sd = at(["sd"]);
  const room = sd !== undefined ? 2.5 * sd : Math.abs(mid) * 0.2 || 1;
  return { low: at(["min", "low"]) ?? mid - room, mid, high: at(["max", "high"]) ?? mid + room };
}
