// All that is wrong with the study, each with the way to its place.

import { button, make, part, words } from "./dom.js";
import { calledOf } from "./wording.js";

/** @typedef {import("./types.js").State} State */
/** @typedef {import("./types.js").Problem} Problem */

/** Column in which a field stands. @param {string} field */
export function keyOf(field) {
  if (field === "formula" || field === "given") return "kind";
  return field.startsWith("parameter.") ? "p0" : field;
}

/** @param {State} state @param {(problem: Problem) => void} jump */
export function showProblems(state, jump) {
  const box = part("problems", HTMLElement);
  box.hidden = state.problems.length === 0;
  const rows = new Map(state.rows.map((row) => [row.id, row]));
  part("problems-count", HTMLElement).textContent = state.problems.length === 1 ? "One thing is wrong" : `${state.problems.length} things are wrong`;
  part("problems-list", HTMLElement).replaceChildren(...state.problems.map((problem) => {
    const row = rows.get(problem.row);
    const place = row ? calledOf(row) : problem.line !== null ? `Line ${problem.line}` : "The study";
    const where = row ? button("", () => jump(problem), { class: "link" }) : make("span");
    where.append(words(place));
    return make("li", {}, where, ": ", words(problem.message), problem.hint ? " " : "", words(problem.hint ?? "", "hint"));
  }));
}
