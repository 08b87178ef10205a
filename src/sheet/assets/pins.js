// Answers kept beside, to compare the present one with.

import { button, make, words } from "./dom.js";

/** @typedef {import("./types.js").Pin} Pin */
/** @typedef {import("./types.js").Result} Result */

export class Pins {
  /**
   * @param {HTMLElement} host
   * @param {() => import("./types.js").View} view
   * @param {(name: string) => void} unpin
   */
  constructor(host, view, unpin) {
    this.host = host;
    this.view = view;
    this.unpin = unpin;
    this.shown = "";
  }

  /** @param {import("./types.js").Answer} answer */
  show(answer) {
    const key = answer.pins.length === 0 ? "" : JSON.stringify([this.view(), answer.pins, answer.odds, answer.results]);
    if (key === this.shown) return;
    this.shown = key;
    this.host.hidden = answer.pins.length === 0;
    this.host.replaceChildren(...(answer.pins.length === 0 ? [] : [this.table(answer)]));
  }

  /** @param {import("./types.js").Answer} answer */
  table(answer) {
    const columns = [{ name: null, odds: answer.odds, results: answer.results }, ...answer.pins];
    const head = make("tr", {}, make("td"), ...columns.map(({ name }) => name === null
      ? make("th", { scope: "col" }, "Now")
      : make("th", { scope: "col" }, words(name), " ", button("Let go", () => this.unpin(name), { class: "small", "aria-label": `Let go of ${name}` }))));
    const odds = line("Odds", columns.map((column) => column.odds ?? ""));
    const lines = answer.results.map((result) => line(result.label, columns.map(({ results }) => this.told(results.find(({ id }) => id === result.id)))));
    return make("table", {}, make("caption", {}, this.view() === "first" ? "Now, and the answers kept beside" : "Now, and the answers kept beside: P10 | P50 | P90"), make("thead", {}, head), make("tbody", {}, odds, ...lines));
  }

  /** A buyer reads the odds and the base case; percentiles stand in the workings. @param {Result|undefined} result */
  told(result) {
    if (!result) return "";
    if (this.view() === "first") return [result.base, result.share ? `odds ${result.share}` : null].filter(Boolean).join("; ");
    const range = result.p10 !== null ? `${result.p10} | ${result.p50} | ${result.p90}` : null;
    return [range, result.share ? `share ${result.share}` : null].filter(Boolean).join("; ");
  }
}

/** @param {string} label @param {string[]} texts */
function line(label, texts) {
  return make("tr", {}, make("th", { scope: "row" }, words(label)), ...texts.map((text) => make("td", {}, words(text))));
}
