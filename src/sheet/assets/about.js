// About the active row: its note, what it reads, what reads it, and what can be done with it.

import { button, make, part, words } from "./dom.js";
import { calledOf } from "./wording.js";

/** @typedef {import("./types.js").Row} Row */

export class About {
  /**
   * @param {import("./store.js").Store} store
   * @param {(row: string) => void} jump
   */
  constructor(store, jump) {
    this.store = store;
    this.jump = jump;
    this.name = part("about-name", HTMLElement);
    this.facts = part("about-facts", HTMLElement);
    this.shown = "";
  }

  /** @param {Row|null} row */
  show(row) {
    const key = row ? [row.id, row.label, row.note, row.source, row.as_of, row.reads.join(), row.read_by.join()].join("\n") : "";
    if (key === this.shown) return;
    this.shown = key;
    this.name.replaceChildren(words(row ? calledOf(row) : "No row"));
    if (!row) return this.facts.replaceChildren();
    const source = [row.source, row.as_of].filter(Boolean).join(", ");
    this.facts.replaceChildren(...fact("Note", row.note), ...fact("Source", source), ...this.links("Reads", row.reads), ...this.links("Read by", row.read_by));
  }

  /** @param {string} title @param {string[]} ids */
  links(title, ids) {
    if (ids.length === 0) return [];
    const links = ids.map((id) => {
      const row = this.store.rows.get(id);
      const link = button("", () => this.jump(id), { class: "link" });
      link.append(words(row ? calledOf(row) : id));
      return make("li", {}, link);
    });
    return [make("div", {}, make("dt", {}, title), make("dd", {}, make("ul", {}, ...links)))];
  }

  /** To the first of the rows that hang together with this one. */
  enter() {
    this.facts.querySelector("button")?.focus();
  }
}

/** @param {string} title @param {string|null} text */
function fact(title, text) {
  return text ? [make("div", {}, make("dt", {}, title), make("dd", {}, words(text)))] : [];
}
