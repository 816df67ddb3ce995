// @ts-check
// Rows decided by hand: choosing them in any figure, and what can be done with them.

import { ask } from "./link.js";
import { changeSettings, currentRun, overtaken, report, set, state } from "./state.js";

/** @typedef {[number, number][]} Stretches inclusive stretches of rows, ascending */

/** Both together, ascending and joined where they touch. @param {Stretches} some @param {Stretches} more @returns {Stretches} */
export function joined(some, more) {
  const all = [...some, ...more].sort((a, b) => a[0] - b[0] || a[1] - b[1]);
  /** @type {Stretches} */
  const together = [];
  for (const [first, last] of all) {
    const before = together[together.length - 1];
    if (before && first <= before[1] + 1) before[1] = Math.max(before[1], last);
    else together.push([first, last]);
  }
  return together;
}

/** What is left of some without others. @param {Stretches} some @param {Stretches} others @returns {Stretches} */
export function without(some, others) {
  /** @type {Stretches} */
  const left = [];
  const gone = joined(others, []);
  let at = 0;
  for (const [first, last] of joined(some, [])) {
    let from = first;
    while (at < gone.length && gone[at][1] < first) at += 1;
    for (let k = at; k < gone.length && gone[k][0] <= last; k += 1) {
      if (gone[k][0] > from) left.push([from, gone[k][0] - 1]);
      from = Math.max(from, gone[k][1] + 1);
    }
    if (from <= last) left.push([from, last]);
  }
  return left;
}

let choice = 0;

/**
 * Chooses the rows that lie inside a box.
 * @param {any} wish sides of the box, as the request `pick` takes them @param {string} words what was drawn, for people @param {number} [again] the choice that is counted anew
 */
export async function choose(wish, words, again) {
  if (state.early || !currentRun()) return null;
  const mine = again ?? ++choice;
  const run = state.run;
  try {
    const found = await ask("pick", { run, ...wish });
    if (mine !== choice || run !== state.run || !found) return null;
    set({ picked: { run, wish, words, number: mine, view: state.viewNumber, ...found } });
    return state.picked;
  } catch (error) {
    if (!overtaken(error)) report(error, "sieve");
    return null;
  }
}

/** Counts the chosen rows anew where something changed since. */
export function refreshChoice() {
  const picked = state.picked;
  if (picked && picked.view !== state.viewNumber && !state.busy) {
    picked.view = state.viewNumber;
    choose(picked.wish, picked.words, picked.number);
  }
}

export function letGo() {
  choice += 1;
  if (state.picked) set({ picked: null });
}

/** What can be done with rows. @type {[("remove"|"keep"|"undo"), string, string][]} */
export const ACTS = [
  ["remove", "Take out", "Delete"],
  ["keep", "Keep", "K"],
  ["undo", "Undo by hand", "U"],
];

let step = 0;

/** Decides rows of the run in front; one step of undo. @param {"remove"|"keep"|"undo"} what @param {Stretches} rows */
export function decide(what, rows) {
  const name = currentRun()?.name;
  if (!name || !rows.length) return;
  step += 1;
  changeSettings(`by hand ${step}`, (settings) => {
    settings.runs ??= {};
    const own = (settings.runs[name] ??= {});
    const [keep, remove] = [own.keep ?? [], own.remove ?? []];
    own.keep = what === "keep" ? joined(keep, rows) : without(keep, rows);
    own.remove = what === "remove" ? joined(remove, rows) : without(remove, rows);
  }, "sieve");
}

/** Does something with the chosen rows, or with the row at the cursor where none is chosen. @param {"remove"|"keep"|"undo"} what */
export function decideChosen(what) {
  if (state.picked) decide(what, state.picked.rows);
  else if (state.reading) decide(what, [[state.reading.row, state.reading.row]]);
}

/** Takes back everything that was decided by hand in the run in front. */
export function undoAllByHand() {
  const name = currentRun()?.name;
  if (!name) return;
  step += 1;
  changeSettings(`by hand ${step}`, (settings) => {
    const own = settings.runs?.[name];
    if (own) Object.assign(own, { keep: [], remove: [] });
  }, "sieve");
}

/** Rows by hand in the run in front, as the core counts them. */
export function byHand() {
  const of = (/** @type {string} */ code) => currentRun()?.rows.by_reason.find((/** @type {any} */ one) => one.code === code)?.any_reason ?? 0;
  return { removed: of("by_hand"), kept: of("kept_by_hand") };
}

/** Acts by key, for every figure. @param {KeyboardEvent} event @returns {boolean} whether the key was one of them */
export function handKeys(event) {
  const key = event.key.toLowerCase();
  const what = key === "delete" || key === "backspace" ? "remove" : key === "k" ? "keep" : key === "u" ? "undo" : null;
  if (!what || event.ctrlKey || event.metaKey || event.altKey) return false;
  event.preventDefault();
  decideChosen(what);
  return true;
}
