// Typing in a cell. Figures go out with every key that leaves a number; Escape brings back what was.

import { Completion } from "./completion.js";
import { make } from "./dom.js";
import { Step } from "./step.js";
import { looksNumeric } from "./wording.js";

/** @typedef {import("./cells.js").Cell} Cell */
/** @typedef {import("./row-view.js").RowView} RowView */
/** @typedef {import("./types.js").SetEdit} SetEdit */
/** @typedef {import("./wire.js").Outcome} Outcome */

/** Formulas go out when the typing rests. */
const REST_MS = 350;

/**
 * @typedef {object} Sheet what the editor needs of it
 * @property {import("./store.js").Store} store
 * @property {HTMLElement} floats
 * @property {(edits: SetEdit[], step: string, done: (outcome: Outcome) => void) => void} send
 * @property {() => string} newStep
 * @property {(row: string, field: string) => void} forgive
 * @property {(way: "down"|"up"|"next"|"back"|"left"|"right"|"stay") => void} leave
 * @property {() => void} changed the note beside the cell may have to change
 */

export class Editor {
  /** @param {Sheet} sheet */
  constructor(sheet) {
    this.sheet = sheet;
    /** @type {Open|null} */
    this.open = null;
  }

  get active() {
    return this.open !== null;
  }

  /**
   * @param {RowView} view
   * @param {Cell} cell
   * @param {HTMLElement} element
   * @param {string|null} typed first character, which takes the place of what stood there
   */
  start(view, cell, element, typed) {
    if (cell.field === null || this.open) return;
    this.sheet.forgive(view.row.id, cell.field);
    this.open = new Open(this, view, cell, element, typed);
  }

  /** @param {boolean} keep */
  finish(keep) {
    const open = this.open;
    if (!open) return;
    this.open = null;
    open.close(keep);
    this.sheet.changed();
  }
}

/** One cell while it is open. */
class Open {
  /**
   * @param {Editor} editor
   * @param {RowView} view
   * @param {Cell} cell
   * @param {HTMLElement} element
   * @param {string|null} typed
   */
  constructor(editor, view, cell, element, typed) {
    this.editor = editor;
    this.view = view;
    this.field = cell.field ?? "";
    this.raw = cell.raw;
    /** What the program has, or null if that is not known. @type {string|null} */
    this.sent = cell.raw;
    this.step = new Step(view.row, editor.sheet.newStep());
    this.over = typed !== null;
    this.numeric = cell.sort === "number" || cell.sort === "parameter";
    this.timer = 0;
    this.input = make("input", {
      type: "text", class: "editor", "aria-label": view.nameOf(cell), spellcheck: "false", autocomplete: "off",
      inputmode: this.numeric ? "decimal" : null, dir: cell.sort === "text" ? "auto" : null,
    });
    this.input.value = typed ?? cell.raw;
    view.busy = element;
    element.classList.add("open");
    element.replaceChildren(this.input);
    const state = editor.sheet.store.state;
    this.offers = cell.sort === "formula" && state ? new Completion(this.input, editor.sheet.floats, state) : null;
    this.listen();
    this.input.focus({ preventScroll: true });
    if (typed === null) this.input.select();
    else this.changed();
  }

  listen() {
    this.input.addEventListener("input", () => this.changed());
    this.input.addEventListener("completed", () => this.changed());
    this.input.addEventListener("keydown", (event) => this.key(event));
    this.input.addEventListener("blur", () => {
      if (this.editor.open === this) this.editor.finish(true);
    });
  }

  changed() {
    if (this.numeric) {
      if (looksNumeric(this.input.value)) this.send();
    } else if (this.offers) {
      this.offers.update();
      clearTimeout(this.timer);
      this.timer = window.setTimeout(() => this.send(), REST_MS);
    }
    this.editor.sheet.changed();
  }

  send() {
    const value = this.input.value.trim();
    if (value === this.sent) return;
    this.sent = value;
    this.editor.sheet.send(this.step.edits(this.field, value), this.step.id, (outcome) => this.settled(outcome));
  }

  /** What was not taken is sent again when the cell is closed. @param {Outcome} outcome */
  settled(outcome) {
    if (outcome.kind === "elsewhere") this.sent = this.raw;
    else if (outcome.kind !== "state") this.sent = null;
  }

  /** @param {KeyboardEvent} event */
  key(event) {
    if (event.isComposing) return;
    event.stopPropagation();
    if (this.offers?.key(event)) return event.preventDefault();
    const way = this.wayOut(event);
    if (way === null) return;
    event.preventDefault();
    const keep = event.key !== "Escape";
    this.editor.finish(keep);
    this.editor.sheet.leave(way);
  }

  /** @param {KeyboardEvent} event @returns {"down"|"up"|"next"|"back"|"left"|"right"|"stay"|null} */
  wayOut(event) {
    if (event.key === "Enter") return event.shiftKey ? "up" : "down";
    if (event.key === "Tab") return event.shiftKey ? "back" : "next";
    if (event.key === "Escape") return "stay";
    if (event.key === "s" && (event.ctrlKey || event.metaKey)) {
      this.input.dispatchEvent(new CustomEvent("wish-save", { bubbles: true }));
      return "stay";
    }
    // Who began by typing moves on with the arrows; who opened the cell moves within it.
    if (!this.over || event.shiftKey) return null;
    const ways = /** @type {const} */ ({ ArrowDown: "down", ArrowUp: "up", ArrowLeft: "left", ArrowRight: "right" });
    return ways[/** @type {keyof typeof ways} */ (event.key)] ?? null;
  }

  /** @param {boolean} keep */
  close(keep) {
    clearTimeout(this.timer);
    this.offers?.remove();
    if (keep) this.send();
    else if (this.sent !== this.raw) this.editor.sheet.send(this.step.restoring(), this.step.id, () => {});
    const element = this.view.busy;
    element?.classList.remove("open");
    this.view.settle();
  }
}
