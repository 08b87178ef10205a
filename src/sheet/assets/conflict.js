// The file changed on the disk while it was edited here: both texts, and the choice.

import { button, make, part } from "./dom.js";
import { pairsOf, unlike } from "./diff.js";

/** @typedef {import("./diff.js").Pair} Pair */

/** Equal lines shown before and behind a difference. */
const AROUND = 2;

/** @type {Record<Pair["sort"], string>} */
const SAID = { same: "", ours: "only yours", theirs: "only the file's", changed: "differs" };

/**
 * @param {import("./wire.js").Conflict} conflict
 * @returns {Promise<"mine"|"theirs"|"cancel">}
 */
export function askWhich(conflict) {
  const dialog = part("conflict", HTMLDialogElement);
  const pairs = pairsOf(conflict.ours, conflict.theirs);
  const count = pairs.filter(({ sort }) => sort !== "same").length;
  part("conflict-count", HTMLElement).textContent = count === 1 ? "1 line differs." : `${count} lines differ.`;
  part("conflict-lines", HTMLElement).replaceChildren(...linesOf(pairs));
  return new Promise((resolve) => {
    const end = (/** @type {"mine"|"theirs"|"cancel"} */ which) => () => dialog.close(which);
    const cancel = button("Cancel", end("cancel"), { autofocus: true });
    part("conflict-ways", HTMLElement).replaceChildren(button("Keep mine", end("mine")), button("Take theirs", end("theirs")), cancel);
    dialog.returnValue = "cancel";
    dialog.addEventListener("close", () => {
      const which = dialog.returnValue;
      resolve(which === "mine" || which === "theirs" ? which : "cancel");
    }, { once: true });
    dialog.showModal();
    cancel.focus();
  });
}

/** @param {Pair[]} pairs */
function linesOf(pairs) {
  const near = new Set();
  pairs.forEach(({ sort }, at) => {
    if (sort === "same") return;
    for (let i = at - AROUND; i <= at + AROUND; i += 1) near.add(i);
  });
  /** @type {HTMLElement[]} */
  const lines = [];
  let left = 0;
  pairs.forEach((pair, at) => {
    if (near.has(at)) {
      if (left > 0) lines.push(gap(left));
      left = 0;
      lines.push(lineOf(pair));
    } else left += 1;
  });
  if (left > 0) lines.push(gap(left));
  return lines;
}

/** @param {number} count */
const gap = (count) => make("tr", { class: "gap" }, make("td", { colspan: 5 }, count === 1 ? "1 equal line" : `${count} equal lines`));

/** @param {Pair} pair */
function lineOf(pair) {
  const { ours, theirs, sort } = pair;
  const parts = sort === "changed" && ours !== null && theirs !== null ? unlike(ours, theirs) : null;
  return make("tr", { class: sort },
    make("td", { class: "count" }, ours === null ? "" : String(pair.ourLine)), textCell(ours, parts?.a ?? null),
    make("td", { class: "said" }, SAID[sort]),
    make("td", { class: "count" }, theirs === null ? "" : String(pair.theirLine)), textCell(theirs, parts?.b ?? null));
}

/** @param {string|null} text @param {readonly [number, number]|null} differs */
function textCell(text, differs) {
  if (text === null) return make("td", { class: "text none" }, make("span", { class: "unseen" }, "no such line"));
  const code = make("code", { dir: "ltr" });
  if (differs === null) code.textContent = text;
  else code.append(text.slice(0, differs[0]), make("mark", {}, text.slice(...differs)), text.slice(differs[1]));
  return make("td", { class: "text" }, code);
}
