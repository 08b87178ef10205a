// The columns of each view.

/** @typedef {import("./types.js").View} View */

/**
 * @typedef {object} Column
 * @property {string} key
 * @property {string} heading
 * @property {number} [spans] columns under one heading
 */

/** Cells that hold a parameter each. */
export const PARAMETERS = { first: 3, workings: 4 };

/** @type {Record<View, Column[]>} */
export const COLUMNS = {
  first: [
    { key: "label", heading: "What" },
    { key: "base", heading: "How much" },
    { key: "kind", heading: "How sure", spans: 5 },
    { key: "p0", heading: "" },
    { key: "p1", heading: "" },
    { key: "p2", heading: "" },
    { key: "drawing", heading: "" },
  ],
  workings: [
    { key: "name", heading: "Name" },
    { key: "label", heading: "Label" },
    { key: "base", heading: "Base" },
    { key: "kind", heading: "Distribution, or formula", spans: 6 },
    { key: "p0", heading: "" },
    { key: "p1", heading: "" },
    { key: "p2", heading: "" },
    { key: "p3", heading: "" },
    { key: "drawing", heading: "" },
    { key: "unit", heading: "Unit" },
    { key: "p10", heading: "P10" },
    { key: "p50", heading: "P50" },
    { key: "p90", heading: "P90" },
    { key: "span", heading: "Headline's span" },
    { key: "source", heading: "Source" },
    { key: "as_of", heading: "As of" },
    { key: "note", heading: "Note" },
    { key: "group", heading: "Group" },
  ],
};

/** Words below a heading that needs them. @type {Record<string, string>} */
export const HEADING_HELP = {
  p10: "10 % of runs lie below",
  p50: "half of runs lie below",
  p90: "90 % of runs lie below",
  span: "P10 to P90, rest at base",
};
