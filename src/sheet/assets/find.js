// Finding rows by what they say.

import { part } from "./dom.js";

/** @typedef {import("./grid.js").Grid} Grid */

export class Find {
  /** @param {Grid} grid */
  constructor(grid) {
    this.grid = grid;
    this.bar = part("find", HTMLElement);
    this.input = part("find-text", HTMLInputElement);
    this.count = part("find-count", HTMLElement);
    part("find-next", HTMLButtonElement).addEventListener("click", () => this.next(1));
    part("find-before", HTMLButtonElement).addEventListener("click", () => this.next(-1));
    part("find-close", HTMLButtonElement).addEventListener("click", () => this.close());
    /** Row from which it is looked for while the words are typed. */
    this.from = 0;
    this.input.addEventListener("input", () => this.next(0));
    this.bar.addEventListener("keydown", (event) => this.key(event));
  }

  open() {
    this.bar.hidden = false;
    this.from = this.grid.active.row;
    this.input.focus();
    this.input.select();
  }

  close() {
    this.bar.hidden = true;
    this.grid.go(this.grid.active);
  }

  /** @param {KeyboardEvent} event */
  key(event) {
    if (event.key === "Escape") this.close();
    else if (event.key === "Enter" && event.target === this.input) this.next(event.shiftKey ? -1 : 1);
    else return;
    event.preventDefault();
    event.stopPropagation();
  }

  /** @param {1|0|-1} way 0: the first from here on */
  next(way) {
    const wanted = this.input.value.trim().toLocaleLowerCase();
    const found = wanted === "" ? [] : this.found(wanted);
    if (found.length === 0) {
      this.count.textContent = wanted === "" ? "" : "nothing found";
      return;
    }
    const here = way === 0 ? this.from : this.grid.active.row;
    const before = found.filter(({ row }) => (way > 0 ? row <= here : row < here)).length;
    const place = found[(way < 0 ? before - 1 + found.length : before) % found.length];
    if (!place) return;
    this.grid.go(place, { focus: false });
    this.grid.cell()?.element.scrollIntoView({ block: "nearest", inline: "nearest" });
    this.count.textContent = `${found.indexOf(place) + 1} of ${found.length}`;
  }

  /** @param {string} wanted */
  found(wanted) {
    return this.grid.rows.flatMap((view, row) => {
      const cell = view.cells.find(({ text, raw }) => `${text}\n${raw}`.toLocaleLowerCase().includes(wanted));
      if (cell) return [{ row, column: cell.start }];
      const { name, note, source } = view.row;
      return `${name}\n${note ?? ""}\n${source ?? ""}`.toLocaleLowerCase().includes(wanted) ? [{ row, column: 0 }] : [];
    });
  }
}
