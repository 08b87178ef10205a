// The page of the sheet: puts its parts together.

import { About } from "./about.js";
import { AnswerView, showStudyCautions } from "./answer.js";
import { Charts } from "./charts.js";
import { copied, pasted } from "./clipboard.js";
import { askWhich } from "./conflict.js";
import { Handling, addRow, clearCells, deleteRows, fillDown, makeChange, moveRow, openCell } from "./deeds.js";
import { part, write } from "./dom.js";
import { Editor } from "./editor.js";
import { Find } from "./find.js";
import { Grid } from "./grid.js";
import { listenKeys } from "./keys.js";
import { Note, placeBelow } from "./note.js";
import { Pins } from "./pins.js";
import { keyOf, showProblems } from "./problems.js";
import { Refusals } from "./refusals.js";
import { Store } from "./store.js";
import { Wire, listen, readState } from "./wire.js";

/** @typedef {import("./types.js").Edit} Edit */
/** @typedef {import("./wire.js").Outcome} Outcome */

/** Marks the steps of this window from those of another. */
const WINDOW = Math.random().toString(36).slice(2, 8);

export class Sheet {
  constructor() {
    /** @type {import("./types.js").View} */
    this.view = "first";
    this.steps = 0;
    this.store = new Store();
    this.refusals = new Refusals();
    this.wire = new Wire(() => this.store.version, (outcome, job) => this.settle(outcome, job.edits));
    const handling = new Handling(this);
    this.around = {
      store: this.store, view: () => this.view, moved: handling.moved,
      wrongs: (/** @type {string} */ row) => this.store.problemsOf(row) + this.refusals.ofRow(row),
      refusal: (/** @type {string} */ row, /** @type {string} */ field) => this.refusals.at(row, field),
    };
    this.floats = part("floats", HTMLElement);
    this.grid = new Grid(part("grid", HTMLElement), this.around);
    this.note = new Note(this.grid, this.floats, this.around);
    this.editor = new Editor({
      store: this.store, floats: this.floats, newStep: () => this.newStep(),
      send: (edits, step, done) => this.wire.edit(edits, step, done),
      forgive: (row, field) => this.refusals.forgive(row, field),
      leave: (way) => this.leave(way), changed: () => this.float(),
    });
    this.find = new Find(this.grid);
    this.about = new About(this.store, (row) => this.jump(row));
    this.answer = new AnswerView();
    this.charts = new Charts(part("charts", HTMLElement));
    this.pins = new Pins(part("pins", HTMLElement), () => this.view, (name) => this.wire.post("unpin", { name }));
    this.store.onState.add(() => this.showState());
    this.store.onAnswer.add(() => this.showAnswer());
    this.grid.onActive.add(() => this.showActive());
  }

  newStep() {
    this.steps += 1;
    return `${WINDOW}-${this.steps}`;
  }

  /**
   * @param {Edit[]} edits
   * @param {() => void} [after] when it is done and shown
   * @param {string|null} [step]
   */
  edit(edits, after, step = null) {
    this.wire.edit(edits, step, (outcome) => {
      if (outcome.kind === "state") after?.();
    });
  }

  /** @param {Outcome} outcome @param {Edit[]} edits */
  settle(outcome, edits) {
    if (outcome.kind === "state") {
      this.lost("");
      this.refusals.taken(edits);
      this.store.takeState(outcome.state);
    } else if (outcome.kind === "elsewhere") {
      this.store.takeState(outcome.state);
      this.tell("The study was changed in another window: here it is as it stands now. Your last edit was not made.");
    } else if (outcome.kind === "refused") {
      const placed = this.refusals.add(edits, outcome.refused);
      this.grid.showWrongs();
      this.note.update();
      if (!placed) this.tell([outcome.refused.message, outcome.refused.hint].filter(Boolean).join(" "));
    } else if (outcome.kind === "failed") this.lost(outcome.message);
  }

  showState() {
    const state = this.store.state;
    if (!state) return;
    write(part("title", HTMLElement), state.title);
    write(part("question", HTMLElement), state.question ?? "");
    const kept = part("kept", HTMLElement);
    write(kept, state.unsaved ? `Changes not saved in ${state.file}` : `Saved in ${state.file}`);
    kept.classList.toggle("unsaved", state.unsaved);
    document.title = `${state.unsaved ? "* " : ""}${state.title}`;
    part("undo", HTMLButtonElement).disabled = !state.can_undo;
    part("redo", HTMLButtonElement).disabled = !state.can_redo;
    showStudyCautions(state);
    showProblems(state, (problem) => this.jump(problem.row, keyOf(problem.field)));
    this.grid.show();
    if (state.problems.length === 0) this.answer.expect(state.version, this.store.answer);
  }

  showAnswer() {
    const answer = this.store.answer;
    if (!answer) return;
    this.grid.showFigures();
    this.answer.show(answer);
    this.pins.show(answer);
    this.charts.show(answer.charts);
  }

  showActive() {
    const here = this.grid.cell();
    this.about.show(here?.view.row ?? null);
    this.float();
  }

  /** What hangs below the active cell. */
  float() {
    this.note.update();
    const here = this.grid.cell();
    const offers = this.floats.querySelector(".offers");
    if (here && offers instanceof HTMLElement) placeBelow(offers, here.element, this.floats);
  }

  /** @param {import("./types.js").View} view */
  show(view) {
    this.editor.finish(true);
    const id = this.grid.cell()?.view.row.id;
    this.view = view;
    document.body.classList.toggle("first", view === "first");
    part("row-tools", HTMLElement).hidden = view === "first";
    const toggle = part("workings", HTMLButtonElement);
    toggle.setAttribute("aria-pressed", String(view === "workings"));
    this.grid.reset();
    this.grid.active = this.grid.corner = { row: 0, column: 0 };
    this.grid.show();
    const at = this.grid.rows.findIndex((row) => row.row.id === id);
    this.grid.go({ row: Math.max(0, at), column: 0 }, { focus: false });
    if (this.store.answer) this.pins.show(this.store.answer);
  }

  /** To a row, with the workings shown where the first view does not have it. @param {string} row @param {string} [key] */
  jump(row, key) {
    if (this.grid.jump(row, key)) return;
    this.show("workings");
    this.grid.jump(row, key);
  }

  /** @param {"down"|"up"|"next"|"back"|"left"|"right"|"stay"} way */
  leave(way) {
    const { row, column } = this.grid.active;
    if (way === "down" || way === "up") this.grid.go({ row: row + (way === "down" ? 1 : -1), column });
    else if (way === "stay") this.grid.go({ row, column });
    else if (!this.grid.side(way === "next" || way === "right" ? 1 : -1, way === "next" || way === "back")) this.grid.go({ row, column });
  }

  /** @param {string} text */
  tell(text) {
    const told = part("told", HTMLElement);
    told.textContent = text;
    clearTimeout(this.telling);
    this.telling = window.setTimeout(() => write(told, ""), 8000);
  }

  /** @param {string} text */
  lost(text) {
    const lost = part("lost", HTMLElement);
    lost.hidden = text === "";
    write(lost, text);
  }

  /** @param {"none"|"theirs"} [over] */
  save(over = "none") {
    this.editor.finish(true);
    this.wire.post("save", { over }, (outcome) => {
      if (outcome.kind === "state") this.tell("Saved.");
      if (outcome.kind === "refused") this.tell(outcome.refused.message);
      if (outcome.kind === "conflict") void this.settleConflict(outcome.conflict);
    });
  }

  /** @param {import("./wire.js").Conflict} conflict */
  async settleConflict(conflict) {
    const which = await askWhich(conflict);
    if (which === "mine") this.save("theirs");
    if (which === "theirs") this.wire.post("take", {}, () => this.tell("This is the file's text now; Undo brings yours back."));
  }

  /** @param {"undo"|"redo"} way */
  back(way) {
    this.editor.finish(true);
    this.wire.post(way, {}, (outcome) => {
      if (outcome.kind === "state") this.tell(way === "undo" ? "Undone." : "Done again.");
    });
  }

  present() {
    const on = document.body.classList.toggle("presenting");
    part("present", HTMLButtonElement).setAttribute("aria-pressed", String(on));
    scrollTo(0, 0);
  }

  listen() {
    listenKeys(this.grid, {
      open: (typed) => openCell(this, typed), clear: () => clearCells(this), fillDown: () => fillDown(this),
      moveRow: (way) => moveRow(this, way), addRow: () => addRow(this), deleteRow: () => deleteRows(this),
      about: () => this.about.enter(), find: () => this.find.open(),
    });
    this.listenButtons();
    document.addEventListener("keydown", (event) => this.key(event));
    document.addEventListener("wish-save", () => queueMicrotask(() => this.save()));
    this.grid.host.addEventListener("copy", (event) => this.copy(event));
    this.grid.host.addEventListener("paste", (event) => this.paste(event));
    addEventListener("resize", () => this.float());
  }

  listenButtons() {
    const press = (/** @type {string} */ id, /** @type {() => void} */ deed) => part(id, HTMLButtonElement).addEventListener("click", deed);
    press("save", () => this.save());
    press("undo", () => this.back("undo"));
    press("redo", () => this.back("redo"));
    press("workings", () => this.show(this.view === "first" ? "workings" : "first"));
    press("present", () => this.present());
    press("row-add", () => addRow(this));
    press("row-up", () => moveRow(this, -1));
    press("row-down", () => moveRow(this, 1));
    press("row-delete", () => deleteRows(this));
    part("pin", HTMLFormElement).addEventListener("submit", (event) => {
      event.preventDefault();
      const name = part("pin-name", HTMLInputElement);
      this.wire.post("pin", { name: name.value.trim() }, () => this.tell("Kept beside."));
      name.value = "";
    });
  }

  /** Keys that hold everywhere; in a text field undo is the field's own. @param {KeyboardEvent} event */
  key(event) {
    const key = event.key.toLowerCase();
    if (event.key === "Escape" && document.body.classList.contains("presenting")) return this.present();
    if (!(event.ctrlKey || event.metaKey) || event.altKey || event.defaultPrevented || document.querySelector("dialog[open]")) return;
    const typing = event.target instanceof HTMLInputElement;
    if (key === "s") this.save();
    else if (key === "z" && !typing) this.back(event.shiftKey ? "redo" : "undo");
    else if (key === "y" && !typing) this.back("redo");
    else return;
    event.preventDefault();
  }

  /** @param {ClipboardEvent} event */
  copy(event) {
    if (this.editor.active) return;
    event.clipboardData?.setData("text/plain", copied(this.grid));
    event.preventDefault();
    this.tell("Copied.");
  }

  /** @param {ClipboardEvent} event */
  paste(event) {
    if (this.editor.active) return;
    event.preventDefault();
    makeChange(this, pasted(this.grid, event.clipboardData?.getData("text/plain") ?? ""), "Pasted");
  }

  async start() {
    this.listen();
    this.grid.reset();
    part("row-tools", HTMLElement).hidden = true;
    await this.read();
    let first = true;
    listen({
      answer: (answer) => this.store.takeAnswer(answer),
      state: (state) => this.store.hearState(state),
      // After a break the program may stand elsewhere.
      open: () => {
        if (!first) void this.read();
        first = false;
      },
      lost: () => this.lost("The connection to the program is lost. Waiting for it .."),
    });
  }

  async read() {
    try {
      this.store.takeState(await readState());
      this.lost("");
    } catch (error) {
      this.lost(error instanceof Error ? error.message : String(error));
    }
  }

  /** @type {number|undefined} */
  telling;
}

void new Sheet().start();
