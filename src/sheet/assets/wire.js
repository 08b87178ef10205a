// Posts, one in flight at a time; of what waits, the newest of a step wins.

/** @typedef {import("./types.js").State} State */
/** @typedef {import("./types.js").Edit} Edit */
/** @typedef {import("./types.js").Refused} Refused */
/** @typedef {{ ours: string, theirs: string }} Conflict */

/**
 * @typedef {object} Job
 * @property {string} path
 * @property {Record<string, unknown>} body
 * @property {string|null} step posts of one step may overtake one another
 * @property {Edit[]} edits
 * @property {(outcome: Outcome) => void} done
 *
 * @typedef {{ kind: "state", state: State } | { kind: "refused", refused: Refused } | { kind: "elsewhere", state: State }
 *   | { kind: "conflict", conflict: Conflict } | { kind: "failed", message: string }} Outcome
 */

export class Wire {
  /**
   * @param {() => number} version
   * @param {(outcome: Outcome, job: Job) => void} settle sees every outcome before `done` of the job
   */
  constructor(version, settle) {
    this.version = version;
    this.settle = settle;
    /** @type {Job[]} */
    this.waiting = [];
    this.busy = false;
  }

  /**
   * @param {Edit[]} edits
   * @param {string|null} step
   * @param {(outcome: Outcome) => void} [done]
   */
  edit(edits, step, done = () => {}) {
    const last = this.waiting.at(-1);
    if (step !== null && last?.step === step) this.waiting.pop();
    this.push({ path: "edit", body: step === null ? { edits } : { edits, step }, step, edits, done });
  }

  /**
   * @param {string} path
   * @param {Record<string, unknown>} [body]
   * @param {(outcome: Outcome) => void} [done]
   */
  post(path, body = {}, done = () => {}) {
    this.push({ path, body, step: null, edits: [], done });
  }

  /** @param {Job} job */
  push(job) {
    this.waiting.push(job);
    if (!this.busy) void this.drain();
  }

  async drain() {
    this.busy = true;
    for (let job = this.waiting.shift(); job; job = this.waiting.shift()) {
      const outcome = await send(job.path, { version: this.version(), ...job.body });
      if (outcome.kind === "elsewhere") this.waiting = this.waiting.filter((other) => other.edits.length === 0);
      this.settle(outcome, job);
      job.done(outcome);
    }
    this.busy = false;
  }
}

/**
 * @param {string} path
 * @param {Record<string, unknown>} body
 * @returns {Promise<Outcome>}
 */
async function send(path, body) {
  try {
    const answer = await fetch(path, {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify(body),
    });
    if (answer.status === 413 || answer.status >= 500) return { kind: "failed", message: await answer.text() };
    const told = await answer.json();
    if (answer.status === 409) return told.conflict ? { kind: "conflict", conflict: told.conflict } : { kind: "elsewhere", state: told };
    if (answer.status === 422) return { kind: "refused", refused: told };
    if (!answer.ok) return { kind: "failed", message: `The program answered ${answer.status}.` };
    return { kind: "state", state: told };
  } catch {
    return { kind: "failed", message: "The program does not answer: was it closed? What you see is not kept." };
  }
}

/** @returns {Promise<State>} */
export async function readState() {
  const answer = await fetch("state");
  if (!answer.ok) throw new Error(`The program answered ${answer.status}.`);
  return answer.json();
}

/**
 * @param {{ answer: (answer: import("./types.js").Answer) => void, state: (state: State) => void, open: () => void, lost: () => void }} to
 */
export function listen(to) {
  const source = new EventSource("events");
  source.addEventListener("answer", (event) => to.answer(JSON.parse(event.data)));
  source.addEventListener("state", (event) => to.state(JSON.parse(event.data)));
  source.addEventListener("open", to.open);
  source.addEventListener("error", to.lost);
}
