// Names that the page gives to kinds and parameters.

/** In a cell, and in the list from which one chooses. @type {Record<string, [string, string]>} */
const PLAIN_KINDS = {
  pert: ["low to high", "low, likely, high: rounded"],
  triangular: ["low to high", "low, likely, high: pointed"],
  uniform: ["in between", "anywhere between two ends"],
  normal: ["give or take", "about so much, give or take"],
  lognormal: ["give or take", "about so much, with a long upper end"],
  weibull: ["a lifetime", "a time until it ends"],
  choice: ["a choice", "a choice of yours"],
  discrete: ["one of several", "one of several"],
  monthly: ["by month", "month by month"],
  labels: ["by name", "by name"],
  samples: ["as observed", "as observed"],
};

/** @type {Record<string, string>} */
const PLAIN_PARAMETERS = {
  min: "low",
  mode: "likely",
  max: "high",
  mean: "about",
  sd: "give or take",
  low: "low",
  high: "high",
};

/** @param {string|null} kind @param {import("./types.js").View} view @param {boolean} [listed] */
export function kindWords(kind, view, listed = false) {
  if (kind === null) return "";
  if (kind === "value") return "known";
  const plain = view === "first" ? PLAIN_KINDS[kind] : undefined;
  return plain ? plain[listed ? 1 : 0] : kind;
}

/** @type {Record<string, string>} */
const PLAIN_LIFETIME = { shape: "how alike", scale: "most end by" };

/** @param {string} name @param {string|null} kind @param {import("./types.js").View} view */
export function parameterWords(name, kind, view) {
  if (view === "workings") return name;
  return (kind === "weibull" ? PLAIN_LIFETIME[name] : PLAIN_PARAMETERS[name]) ?? name;
}

/** What a row calls itself. @param {import("./types.js").Row} row */
export const calledOf = (row) => row.label || row.name;

/**
 * What a number looks like while typed: sign, blanks or underscores between digits, point or comma, exponent.
 * @param {string} text
 */
export const looksNumeric = (text) => /^\s*[-+\u2212]?(\d[\d\s_\u202f\u00a0]*)?([.,]\d+)?(e[-+]?\d+)?\s*$/i.test(text) && /\d/.test(text);

/** @param {string} text */
export const toNumber = (text) => Number(text.replace(/[\s_\u202f\u00a0]/g, "").replace(",", ".").replace("\u2212", "-"));

/**
 * A number in as few digits as its step needs.
 * @param {number} value
 * @param {number} step
 */
export function inSteps(value, step) {
  const digits = Math.max(0, Math.min(12, -Math.floor(Math.log10(step) + 1e-9)));
  return (Math.round(value / step) * step).toFixed(digits);
}

/**
 * About a hundredth of a width: 1, 2 or 5 times a power of ten.
 * @param {number} width
 */
export function stepFor(width) {
  if (!(width > 0)) return 1;
  const rough = width / 100;
  const power = 10 ** Math.floor(Math.log10(rough));
  const times = rough / power;
  return (times < 1.5 ? 1 : times < 3.5 ? 2 : times < 7.5 ? 5 : 10) * power;
}
