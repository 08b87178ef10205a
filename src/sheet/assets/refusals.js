// Edits that the program could not make, each at its cell until it is typed in again.

/** @typedef {import("./types.js").Edit} Edit */
/** @typedef {import("./types.js").Refused} Refused */

export class Refusals {
  constructor() {
    /** @type {Map<string, { message: string, text: string }>} */
    this.all = new Map();
  }

  /** @param {Edit[]} edits @param {Refused} refused @returns {boolean} whether it has a cell */
  add(edits, refused) {
    const edit = edits[refused.edit] ?? edits[0];
    if (edit?.op !== "set") return false;
    const message = [refused.message, refused.hint].filter(Boolean).join(" ");
    this.all.set(`${edit.row} ${edit.field}`, { message, text: edit.value });
    return true;
  }

  /** What is taken now is no longer refused. @param {Edit[]} edits */
  taken(edits) {
    for (const edit of edits) if (edit.op === "set") this.forgive(edit.row, edit.field);
  }

  /** @param {string} row @param {string} field */
  forgive(row, field) {
    this.all.delete(`${row} ${field}`);
  }

  /** @param {string} row @param {string} field */
  at(row, field) {
    return this.all.get(`${row} ${field}`) ?? null;
  }

  /** All of a row, for comparing. @param {string} row */
  ofRow(row) {
    if (this.all.size === 0) return "";
    return [...this.all].filter(([key]) => key.startsWith(`${row} `)).map(([key, { message }]) => `${key}: ${message}`).join("\n");
  }
}
