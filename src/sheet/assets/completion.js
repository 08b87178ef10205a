// Names and functions offered while a formula is typed.

import { make, words } from "./dom.js";

/** @typedef {{ insert: string, shown: string, told: string }} Offer */

const MOST = 8;
let lists = 0;

export class Completion {
  /** @param {HTMLInputElement} input @param {HTMLElement} host @param {import("./types.js").State} state */
  constructor(input, host, state) {
    this.input = input;
    lists += 1;
    this.list = make("ul", { role: "listbox", class: "offers", id: `offers-${lists}`, "aria-label": "Names that fit", hidden: true });
    host.append(this.list);
    /** @type {Offer[]} */
    this.all = [
      ...state.names.map(({ name, label, unit }) => ({ insert: name, shown: name, told: unit ? `${label}, ${unit}` : label })),
      ...state.functions.map(({ name, shape }) => ({ insert: `${name}(`, shown: shape, told: "function" })),
    ];
    /** @type {Offer[]} */
    this.offers = [];
    this.at = 0;
    for (const [name, value] of [["role", "combobox"], ["aria-autocomplete", "list"], ["aria-expanded", "false"], ["aria-controls", this.list.id]]) {
      if (name && value) input.setAttribute(name, value);
    }
    this.list.addEventListener("pointerdown", (event) => this.pick(event));
  }

  get open() {
    return this.offers.length > 0;
  }

  /** The name being typed, left of the caret. */
  begun() {
    const caret = this.input.selectionStart ?? 0;
    const begun = /[\p{L}_][\p{L}\p{N}_.]*$/u.exec(this.input.value.slice(0, caret))?.[0] ?? "";
    return { begun, from: caret - begun.length, to: caret };
  }

  update() {
    const begun = this.begun().begun.toLowerCase();
    const fits = begun === "" ? [] : this.all.filter(({ insert }) => insert.toLowerCase().includes(begun) && insert.toLowerCase() !== begun);
    fits.sort((a, b) => Number(b.insert.toLowerCase().startsWith(begun)) - Number(a.insert.toLowerCase().startsWith(begun)));
    this.offers = fits.slice(0, MOST);
    this.at = 0;
    this.show();
  }

  show() {
    this.list.replaceChildren(...this.offers.map((offer, index) => make("li",
      { role: "option", id: `${this.list.id}-${index}`, "data-index": index, "aria-selected": index === this.at ? "true" : "false" },
      words(offer.shown, "name"), words(offer.told, "told"))));
    this.list.hidden = !this.open;
    this.input.setAttribute("aria-expanded", String(this.open));
    if (this.open) this.input.setAttribute("aria-activedescendant", `${this.list.id}-${this.at}`);
    else this.input.removeAttribute("aria-activedescendant");
    this.list.children[this.at]?.scrollIntoView({ block: "nearest" });
  }

  /** Whether the key was for the list. @param {KeyboardEvent} event */
  key(event) {
    if (!this.open) return false;
    const ways = { ArrowDown: 1, ArrowUp: -1 };
    const way = ways[/** @type {keyof typeof ways} */ (event.key)];
    if (way) {
      this.at = (this.at + way + this.offers.length) % this.offers.length;
      this.show();
    } else if (event.key === "Enter" || event.key === "Tab") this.accept(this.at);
    else if (event.key === "Escape") this.close();
    else return false;
    return true;
  }

  /** @param {PointerEvent} event */
  pick(event) {
    event.preventDefault();
    const option = event.target instanceof Element ? event.target.closest("li") : null;
    if (option) this.accept(Number(option.dataset.index));
  }

  /** @param {number} index */
  accept(index) {
    const offer = this.offers[index];
    if (!offer) return;
    const { from, to } = this.begun();
    this.input.setRangeText(offer.insert, from, to, "end");
    this.close();
    this.input.dispatchEvent(new CustomEvent("completed"));
  }

  close() {
    this.offers = [];
    this.show();
  }

  remove() {
    this.list.remove();
  }
}
