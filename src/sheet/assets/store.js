// What the program said last. The page holds no model: only this.

/** @typedef {import("./types.js").State} State */
/** @typedef {import("./types.js").Answer} Answer */
/** @typedef {import("./types.js").Row} Row */
/** @typedef {import("./types.js").RowAnswer} RowAnswer */
/** @typedef {import("./types.js").Problem} Problem */

export class Store {
  constructor() {
    /** @type {State|null} */
    this.state = null;
    /** @type {Answer|null} */
    this.answer = null;
    /** @type {Map<string, Row>} */
    this.rows = new Map();
    /** @type {Map<string, RowAnswer>} */
    this.figures = new Map();
    /** @type {Map<string, Problem>} */
    this.problems = new Map();
    /** @type {Set<() => void>} */
    this.onState = new Set();
    /** @type {Set<() => void>} */
    this.onAnswer = new Set();
  }

  get version() {
    return this.state?.version ?? 0;
  }

  /** @param {State} state */
  takeState(state) {
    this.state = state;
    this.rows = new Map(state.rows.map((row) => [row.id, row]));
    this.problems = new Map(state.problems.map((problem) => [`${problem.row} ${problem.field}`, problem]));
    for (const listener of this.onState) listener();
  }

  /**
   * A state that another window brought about, unless a newer one is shown already.
   * @param {State} state
   */
  hearState(state) {
    if (state.version >= this.version) this.takeState(state);
  }

  /** @param {Answer} answer */
  takeAnswer(answer) {
    this.answer = answer;
    for (const row of answer.rows) this.figures.set(row.id, row);
    for (const listener of this.onAnswer) listener();
  }

  /**
   * Percentiles and span: from the last answer, else as they came with the row.
   * @param {Row} row
   * @returns {RowAnswer}
   */
  figuresOf(row) {
    return this.figures.get(row.id) ?? row;
  }

  /** @param {string} row @param {string} field */
  problemAt(row, field) {
    return this.problems.get(`${row} ${field}`) ?? null;
  }

  /** All problems of a row, for comparing. @param {string} row */
  problemsOf(row) {
    if (this.problems.size === 0) return "";
    const own = [...this.problems.values()].filter((problem) => problem.row === row);
    return own.map(({ field, from, to, message, hint }) => `${field} ${from} ${to} ${message} ${hint}`).join("\n");
  }
}
