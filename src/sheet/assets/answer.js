// The answer in words, its odds, how many runs it rests on, and what to mind.

import { make, part, words, write } from "./dom.js";

/** @typedef {import("./types.js").Answer} Answer */
/** @typedef {import("./types.js").State} State */

/** Without an answer to the newest edit for so long, the odds are marked as of the one before. */
const PATIENCE_MS = 250;

/** Between two readings aloud. */
const QUIET_MS = 2500;

export class AnswerView {
  constructor() {
    this.sentences = part("sentences", HTMLElement);
    this.odds = part("odds", HTMLElement);
    this.oddsOf = part("odds-of", HTMLElement);
    this.runs = part("runs", HTMLElement);
    this.stale = part("stale", HTMLElement);
    this.cautions = part("cautions", HTMLElement);
    this.notes = part("notes", HTMLElement);
    this.aloud = part("aloud", HTMLElement);
    this.box = part("answer", HTMLElement);
    this.stripOdds = part("strip-odds", HTMLElement);
    this.stripRuns = part("strip-runs", HTMLElement);
    this.followOut();
    this.said = "";
    this.saidAt = -QUIET_MS;
    this.timer = 0;
    this.patience = 0;
  }

  /** @param {number} version of the study that is shown @param {Answer|null} answer */
  expect(version, answer) {
    clearTimeout(this.patience);
    if (answer === null || answer.version >= version) return;
    this.patience = window.setTimeout(() => {
      this.box.classList.add("refining");
      write(this.runs, "Working out your edit ..");
      write(this.stripRuns, "working out your edit ..");
    }, PATIENCE_MS);
  }

  /** @param {Answer} answer */
  show(answer) {
    clearTimeout(this.patience);
    writeAll(this.sentences, answer.sentences);
    write(this.odds, answer.odds ?? "");
    write(this.oddsOf, answer.odds_of ?? "");
    write(this.runs, runsWords(answer));
    write(this.stripOdds, answer.odds ?? "");
    write(this.stripRuns, runsWords(answer).toLowerCase());
    this.box.classList.toggle("refining", !answer.last);
    this.stale.hidden = !answer.stale;
    this.runs.hidden = answer.stale;
    write(this.cautions, answer.cautions ?? "");
    writeAll(this.notes, answer.notes);
    this.say(answer);
  }

  /** While the answer is scrolled away its odds stay at the top of the window. */
  followOut() {
    const strip = part("strip", HTMLElement);
    const watch = new IntersectionObserver(([seen]) => {
      strip.hidden = !seen || seen.isIntersecting;
    });
    watch.observe(this.odds);
  }

  /** Read aloud at rest, and only when the words changed. @param {Answer} answer */
  say(answer) {
    const text = [...answer.sentences, answer.odds ? `Odds ${answer.odds}.` : ""].join(" ").trim();
    clearTimeout(this.timer);
    if (text === this.said) return;
    const wait = Math.max(answer.last ? 400 : 1200, this.saidAt + QUIET_MS - performance.now());
    this.timer = window.setTimeout(() => {
      this.said = text;
      this.saidAt = performance.now();
      this.aloud.textContent = text;
    }, wait);
  }
}

/** @param {Answer} answer */
function runsWords(answer) {
  const count = new Intl.NumberFormat("en").format(answer.runs);
  return answer.last ? `From ${count} runs` : `From ${count} runs, still refining ..`;
}

/**
 * A paragraph for each text; those that stand are kept.
 * @param {HTMLElement} host
 * @param {string[]} texts
 */
export function writeAll(host, texts) {
  while (host.childElementCount > texts.length) host.lastElementChild?.remove();
  texts.forEach((text, index) => {
    const standing = host.children[index];
    if (standing?.firstElementChild) write(standing.firstElementChild, text);
    else host.append(make("p", {}, words(text)));
  });
}

/** Cautions of the study itself. @param {State} state */
export function showStudyCautions(state) {
  const host = part("study-cautions", HTMLElement);
  writeAll(host, state.cautions);
}
