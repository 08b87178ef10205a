// The keyboard and the pointer on the grid, while no cell is open.

/** @typedef {import("./grid.js").Grid} Grid */

/**
 * @typedef {object} Deeds
 * @property {(typed: string|null) => void} open
 * @property {() => void} clear
 * @property {() => void} fillDown
 * @property {(way: 1|-1) => void} moveRow
 * @property {() => void} addRow
 * @property {() => void} deleteRow
 * @property {() => void} about
 * @property {() => void} find
 */

/** Rows to a page. */
const PAGE = 10;

/** @param {Grid} grid @param {Deeds} deeds */
export function listenKeys(grid, deeds) {
  let leaving = false;
  grid.host.addEventListener("keydown", (event) => {
    if (event.defaultPrevented || event.isComposing || !(event.target instanceof Element) || event.target.closest(".open, select")) return;
    // Else Tab would have to go through every cell.
    if (leaving && event.key === "Tab") return;
    if (event.key !== "Shift") leaving = event.key === "Escape";
    if (moved(grid, event) || done(deeds, event)) event.preventDefault();
  });
  grid.host.addEventListener("focusin", (event) => {
    leaving = false;
    follow(grid, event);
  });
  listenPointer(grid, deeds);
}

/** @param {Grid} grid @param {KeyboardEvent} event */
function moved(grid, event) {
  if (event.altKey) return false;
  const { row, column } = grid.active;
  const far = event.ctrlKey || event.metaKey;
  const extend = event.shiftKey;
  const last = grid.rows.length - 1;
  switch (event.key) {
    case "ArrowDown": return go(grid, far ? last : row + 1, column, extend);
    case "ArrowUp": return go(grid, far ? 0 : row - 1, column, extend);
    case "PageDown": return go(grid, row + PAGE, column, extend);
    case "PageUp": return go(grid, row - PAGE, column, extend);
    case "ArrowRight": return go(grid, row, far ? 99 : beside(grid, 1), extend);
    case "ArrowLeft": return go(grid, row, far ? 0 : beside(grid, -1), extend);
    case "Home": return go(grid, far ? 0 : row, 0, extend);
    case "End": return go(grid, far ? last : row, 99, extend);
    // At either end Tab leaves the grid, as it must.
    case "Tab": return grid.side(event.shiftKey ? -1 : 1, true);
    default: return false;
  }
}

/** @param {Grid} grid @param {number} row @param {number} column @param {boolean} extend */
function go(grid, row, column, extend) {
  grid.go({ row, column }, { extend });
  return true;
}

/** Column of the next cell, over what a wide cell covers. @param {Grid} grid @param {1|-1} way */
function beside(grid, way) {
  const here = grid.cell();
  return (here && here.view.cells[here.index + way]?.start) ?? grid.active.column;
}

/** @param {Deeds} deeds @param {KeyboardEvent} event */
function done(deeds, event) {
  const far = event.ctrlKey || event.metaKey;
  if (far && event.key.toLowerCase() === "d") deeds.fillDown();
  else if (far && event.key.toLowerCase() === "f") deeds.find();
  else if (far && event.key === "Delete") deeds.deleteRow();
  else if (event.altKey && event.key === "ArrowUp") deeds.moveRow(-1);
  else if (event.altKey && event.key === "ArrowDown") deeds.moveRow(1);
  else if (event.altKey && event.key === "Insert") deeds.addRow();
  else if (event.altKey && event.key.toLowerCase() === "r") deeds.about();
  else if (far || event.altKey) return false;
  else if (event.key === "Enter" || event.key === "F2") deeds.open(null);
  else if (event.key === "Delete" || event.key === "Backspace") deeds.clear();
  else if (event.key.length === 1 && event.key !== " ") deeds.open(event.key);
  else if (event.key === " ") deeds.open(null);
  else return false;
  return true;
}

/** The active cell goes where the focus went by other ways. @param {Grid} grid @param {FocusEvent} event */
function follow(grid, event) {
  const place = event.target instanceof Element ? grid.placeOf(event.target) : null;
  if (!place || grid.cell()?.element.contains(/** @type {Node} */ (event.target))) return;
  grid.go(place, { focus: false });
}

/** @param {Grid} grid @param {Deeds} deeds */
function listenPointer(grid, deeds) {
  let pressed = false;
  let opens = false;
  grid.host.addEventListener("pointerdown", (event) => {
    const target = /** @type {Element} */ (event.target);
    const place = event.button === 0 && !target.closest(".open") ? grid.placeOf(target) : null;
    opens = place !== null && !event.shiftKey && opensAtOnce(grid, target, event.pointerType);
    if (!place || event.pointerType === "touch") return;
    event.preventDefault();
    pressed = true;
    grid.go(place, { extend: event.shiftKey });
  });
  grid.host.addEventListener("pointerover", (event) => {
    if (!pressed || event.buttons !== 1) return;
    const place = grid.placeOf(/** @type {Element} */ (event.target));
    if (place) grid.go(place, { extend: true, focus: false });
  });
  grid.host.addEventListener("click", (event) => {
    const place = grid.placeOf(/** @type {Element} */ (event.target));
    if (!opens || !place) return;
    opens = false;
    grid.go(place);
    deeds.open(null);
  });
  addEventListener("pointerup", () => {
    pressed = false;
  });
}

/** A finger opens what it touches; a mouse a list, or the cell that was chosen before. @param {Grid} grid @param {Element} target @param {string} pointer */
function opensAtOnce(grid, target, pointer) {
  if (pointer === "touch") return true;
  const here = grid.cell()?.element;
  return target.closest(".kind") !== null || (here !== undefined && here === document.activeElement && here.contains(target));
}
