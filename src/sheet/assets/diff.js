// Two texts line by line: what is the same, what only one of them has.

/** @typedef {{ sort: "same"|"ours"|"theirs"|"changed", ours: string|null, theirs: string|null, ourLine: number, theirLine: number }} Pair */

/** Above so many pairs of lines the middle is told as replaced. */
const MOST_PAIRS = 4_000_000;

/** @param {string} ours @param {string} theirs @returns {Pair[]} */
export function pairsOf(ours, theirs) {
  const a = ours.split(/\r?\n/);
  const b = theirs.split(/\r?\n/);
  let head = 0;
  while (head < a.length && head < b.length && a[head] === b[head]) head += 1;
  let tail = 0;
  while (tail < a.length - head && tail < b.length - head && a[a.length - 1 - tail] === b[b.length - 1 - tail]) tail += 1;
  const steps = [...Array(head).fill("same"), ...middle(a.slice(head, a.length - tail), b.slice(head, b.length - tail)), ...Array(tail).fill("same")];
  return joined(steps, a, b);
}

/**
 * Longest common lines of what lies between the equal ends.
 * @param {string[]} a
 * @param {string[]} b
 * @returns {("same"|"ours"|"theirs")[]}
 */
function middle(a, b) {
  if (a.length * b.length > MOST_PAIRS) return [...Array(a.length).fill("ours"), ...Array(b.length).fill("theirs")];
  const width = b.length + 1;
  const lengths = new Uint32Array((a.length + 1) * width);
  const at = (/** @type {number} */ i, /** @type {number} */ j) => lengths[i * width + j] ?? 0;
  for (let i = a.length - 1; i >= 0; i -= 1) {
    for (let j = b.length - 1; j >= 0; j -= 1) {
      lengths[i * width + j] = a[i] === b[j] ? at(i + 1, j + 1) + 1 : Math.max(at(i + 1, j), at(i, j + 1));
    }
  }
  /** @type {("same"|"ours"|"theirs")[]} */
  const steps = [];
  let [i, j] = [0, 0];
  while (i < a.length || j < b.length) {
    if (i < a.length && j < b.length && a[i] === b[j]) {
      steps.push("same");
      i += 1;
      j += 1;
    } else if (j >= b.length || (i < a.length && at(i + 1, j) >= at(i, j + 1))) {
      steps.push("ours");
      i += 1;
    } else {
      steps.push("theirs");
      j += 1;
    }
  }
  return steps;
}

/**
 * A line of ours and one of theirs in the same place stand beside each other as changed.
 * @param {("same"|"ours"|"theirs")[]} steps
 * @param {string[]} a
 * @param {string[]} b
 */
function joined(steps, a, b) {
  /** @type {Pair[]} */
  const pairs = [];
  let [i, j] = [0, 0];
  for (let k = 0; k < steps.length;) {
    if (steps[k] === "same") {
      pairs.push({ sort: "same", ours: a[i] ?? "", theirs: b[j] ?? "", ourLine: i + 1, theirLine: j + 1 });
      i += 1;
      j += 1;
      k += 1;
      continue;
    }
    let [only, other] = [0, 0];
    for (; k < steps.length && steps[k] !== "same"; k += 1) steps[k] === "ours" ? (only += 1) : (other += 1);
    for (let n = 0; n < Math.max(only, other); n += 1) {
      const sort = n < only && n < other ? "changed" : n < only ? "ours" : "theirs";
      pairs.push({ sort, ours: n < only ? (a[i + n] ?? "") : null, theirs: n < other ? (b[j + n] ?? "") : null, ourLine: i + n + 1, theirLine: j + n + 1 });
    }
    i += only;
    j += other;
  }
  return pairs;
}

/**
 * The parts of two lines that differ, as whole words and figures: what is the same before and behind is left out.
 * @param {string} a
 * @param {string} b
 */
export function unlike(a, b) {
  let head = 0;
  while (head < a.length && head < b.length && a[head] === b[head]) head += 1;
  while (head > 0 && /[\p{L}\p{N}_.]/u.test(a[head - 1] ?? "")) head -= 1;
  let tail = 0;
  while (tail < a.length - head && tail < b.length - head && a[a.length - 1 - tail] === b[b.length - 1 - tail]) tail += 1;
  while (tail > 0 && /[\p{L}\p{N}_.]/u.test(a[a.length - tail] ?? "")) tail -= 1;
  return { a: /** @type {const} */ ([head, a.length - tail]), b: /** @type {const} */ ([head, b.length - tail]) };
}
