// The grid: rows in groups, one cell that can be tabbed to, a block that is chosen.

import { COLUMNS, HEADING_HELP } from "./columns.js";
import { make, words } from "./dom.js";
import { RowView } from "./row-view.js";

/** @typedef {import("./types.js").Row} Row */
/** @typedef {import("./row-view.js").Around} Around */
/** @typedef {{ row: number, column: number }} Place */

/** @type {Record<string, string>} */
const SECTIONS = { paths: "Price paths", workings: "Workings", results: "Results" };

export class Grid {
  /** @param {HTMLElement} host @param {Around} around */
  constructor(host, around) {
    this.host = host;
    this.around = around;
    /** @type {RowView[]} in the order shown */
    this.rows = [];
    /** @type {Map<string, RowView>} */
    this.byId = new Map();
    /** @type {Map<string, HTMLElement>} */
    this.groups = new Map();
    /** @type {WeakMap<HTMLElement, number>} */
    this.numbers = new WeakMap();
    /** @type {Place} */
    this.active = { row: 0, column: 0 };
    /** Other corner of the chosen block. @type {Place} */
    this.corner = { row: 0, column: 0 };
    /** @type {HTMLElement|null} */
    this.tabbed = null;
    /** @type {Set<HTMLElement>} */
    this.marked = new Set();
    /** @type {Set<() => void>} */
    this.onActive = new Set();
    this.host.addEventListener("rebuilt", (event) => this.refocus(event));
  }

  /** Builds the heads of a view and drops rows of the other. */
  reset() {
    const view = this.around.view();
    this.host.className = `grid view-${view}`;
    this.byId.clear();
    this.groups.clear();
    this.rows = [];
    this.tabbed = null;
    this.marked.clear();
    this.host.setAttribute("aria-colcount", String(COLUMNS[view].length));
    this.host.replaceChildren(headRow(view));
  }

  /** Every row that the view shows, each in its group; what stands already is kept. */
  show() {
    const state = this.around.store.state;
    if (!state) return;
    const here = this.rows[this.active.row]?.row.id;
    const rows = this.around.view() === "first" ? state.rows.filter((row) => row.first_view) : state.rows;
    const grouped = groupsOf(rows, this.around.view());
    const held = this.host.contains(document.activeElement);
    const ordered = [...grouped.values()].flat();
    const left = new Set(this.byId.keys());
    this.rows = ordered.map((row) => {
      left.delete(row.id);
      return this.viewOf(row);
    });
    for (const id of left) {
      this.byId.get(id)?.element.remove();
      this.byId.delete(id);
    }
    this.place(grouped);
    this.stay(here);
    // The row that had the focus is gone: the one in its place gets it.
    if (held && !this.host.contains(document.activeElement)) this.cell()?.element.focus({ preventScroll: true });
  }

  /** @param {Row} row */
  viewOf(row) {
    const standing = this.byId.get(row.id);
    if (standing) {
      standing.update(row);
      return standing;
    }
    const view = new RowView(row, this.around);
    this.byId.set(row.id, view);
    return view;
  }

  /** Only figures changed. */
  showFigures() {
    if (this.around.view() === "first") return;
    for (const view of this.rows) view.showFigures();
  }

  /** What is wrong with rows changed. */
  showWrongs() {
    for (const view of this.rows) view.update(view.row);
  }

  /** @param {Map<string, Row[]>} grouped */
  place(grouped) {
    let index = 1;
    let before = this.host.firstElementChild;
    for (const [name, rows] of grouped) {
      const group = this.groups.get(name) ?? this.newGroup(name);
      if (before?.nextElementSibling !== group) before?.after(group);
      before = group;
      index += 1;
      let last = group.firstElementChild;
      for (const row of rows) {
        const element = /** @type {RowView} */ (this.byId.get(row.id)).element;
        if (last?.nextElementSibling !== element) last?.after(element);
        last = element;
        index += 1;
        this.number(element, index);
      }
    }
    for (const [name, group] of this.groups) {
      if (grouped.has(name)) continue;
      group.remove();
      this.groups.delete(name);
    }
    this.host.setAttribute("aria-rowcount", String(index));
  }

  /** @param {HTMLElement} element @param {number} index */
  number(element, index) {
    if (this.numbers.get(element) === index) return;
    this.numbers.set(element, index);
    element.setAttribute("aria-rowindex", String(index));
  }

  /** @param {string} name */
  newGroup(name) {
    const heading = words(name);
    const group = make("div", { role: "rowgroup", class: "group" },
      make("div", { role: "row", class: "group-head" },
        make("div", { role: "rowheader", "aria-colspan": COLUMNS[this.around.view()].length }, heading)));
    this.groups.set(name, group);
    return group;
  }

  /** Keeps the active cell on its row when rows come, go or move. @param {string|undefined} id */
  stay(id) {
    const at = id === undefined ? -1 : this.rows.findIndex((view) => view.row.id === id);
    const row = at >= 0 ? at : Math.min(this.active.row, Math.max(0, this.rows.length - 1));
    const moved = row - this.active.row;
    this.active = { ...this.active, row };
    this.corner = { ...this.corner, row: Math.max(0, Math.min(this.rows.length - 1, this.corner.row + moved)) };
    this.mark();
  }

  cell() {
    const view = this.rows[this.active.row];
    if (!view) return null;
    const index = view.indexAt(this.active.column);
    const cell = view.cells[index];
    const element = view.elements[index];
    return cell && element ? { view, cell, element, index } : null;
  }

  /**
   * @param {Place} to
   * @param {{ extend?: boolean, focus?: boolean }} [how]
   */
  go(to, { extend = false, focus = true } = {}) {
    const row = Math.max(0, Math.min(this.rows.length - 1, to.row));
    const column = Math.max(0, Math.min(COLUMNS[this.around.view()].length - 1, to.column));
    this.active = { row, column };
    if (!extend) this.corner = this.active;
    this.mark();
    const here = this.cell();
    if (!here || !focus) return;
    here.element.focus({ preventScroll: true });
    here.element.scrollIntoView({ block: "nearest", inline: "nearest" });
  }

  /** One cell to the side, over the end of the row into the next. @param {1|-1} way @param {boolean} wrap */
  side(way, wrap) {
    const here = this.cell();
    if (!here) return false;
    const next = here.view.cells[here.index + way];
    if (next) {
      this.go({ row: this.active.row, column: next.start });
      return true;
    }
    const row = this.rows[this.active.row + way];
    if (!wrap || !row) return false;
    this.go({ row: this.active.row + way, column: way > 0 ? 0 : (row.cells[row.cells.length - 1]?.start ?? 0) });
    return true;
  }

  /** Roving tabindex, and the marks of the chosen block. */
  mark() {
    const here = this.cell();
    if (this.tabbed !== (here?.element ?? null)) {
      if (this.tabbed) this.tabbed.tabIndex = -1;
      this.tabbed?.classList.remove("here");
      if (here) here.element.tabIndex = 0;
      here?.element.classList.add("here");
    }
    this.tabbed = here?.element ?? null;
    const chosen = new Set(this.chosen().flatMap(({ elements }) => elements));
    if (chosen.size < 2) chosen.clear();
    for (const element of this.marked) if (!chosen.has(element)) element.removeAttribute("aria-selected");
    for (const element of chosen) element.setAttribute("aria-selected", "true");
    this.marked = chosen;
    for (const listener of this.onActive) listener();
  }

  /** The chosen block, row by row. */
  chosen() {
    const top = Math.min(this.active.row, this.corner.row);
    const bottom = Math.max(this.active.row, this.corner.row);
    const left = Math.min(this.active.column, this.corner.column);
    const right = Math.max(this.active.column, this.corner.column);
    return this.rows.slice(top, bottom + 1).map((view) => {
      const from = view.indexAt(left);
      const to = view.indexAt(right);
      return { view, cells: view.cells.slice(from, to + 1), elements: view.elements.slice(from, to + 1), left, right };
    });
  }

  /** Place of an element within the grid. @param {Element} element @returns {Place|null} */
  placeOf(element) {
    const cell = element.closest("[data-start]");
    const row = element.closest("[data-row]");
    if (!(cell instanceof HTMLElement) || !(row instanceof HTMLElement)) return null;
    const at = this.rows.findIndex((view) => view.element === row);
    return at < 0 ? null : { row: at, column: Number(cell.dataset.start) };
  }

  /** @param {string} id @param {string} [key] column */
  jump(id, key) {
    const at = this.rows.findIndex((view) => view.row.id === id);
    if (at < 0) return false;
    const column = key === undefined ? -1 : COLUMNS[this.around.view()].findIndex((one) => one.key === key);
    this.go({ row: at, column: column >= 0 ? column : this.active.column });
    return true;
  }

  /** A row was built anew while a cell of it had the focus. @param {Event} event */
  refocus(event) {
    const focused = /** @type {CustomEvent<number>} */ (event).detail;
    this.mark();
    if (focused >= 0) this.cell()?.element.focus({ preventScroll: true });
  }
}

/** @param {import("./types.js").View} view */
function headRow(view) {
  const head = make("div", { role: "row", class: "row head", "aria-rowindex": 1 });
  COLUMNS[view].forEach(({ key, heading, spans }, at) => {
    if (heading === "") return;
    const help = HEADING_HELP[key];
    const cell = make("div", { role: "columnheader", class: `cell of-${key}${spans ? ` wide-${spans}` : ""}`, "aria-colindex": at + 1, "aria-colspan": spans ?? null },
      heading, help ? make("span", { class: "small" }, help) : null);
    head.append(cell);
  });
  return make("div", { role: "rowgroup", class: "heads" }, head);
}

/**
 * Inputs by their own group, then paths, workings, results; in the first view paths stand among the inputs.
 * @param {Row[]} rows
 * @param {import("./types.js").View} view
 */
function groupsOf(rows, view) {
  /** @type {Map<string, Row[]>} */
  const groups = new Map();
  const ranks = ["inputs", "paths", "workings", "results"];
  const sorted = rows.map((row, at) => ({ row, at, rank: ranks.indexOf(row.section) })).sort((a, b) => a.rank - b.rank || a.at - b.at);
  for (const { row } of sorted) {
    const own = row.group || "Inputs";
    const name = view === "first" ? own : (SECTIONS[row.section] ?? own);
    const group = groups.get(name);
    if (group) group.push(row);
    else groups.set(name, [row]);
  }
  return groups;
}
