// @ts-check
// Where undo and redo lead: what was open and how it was set, as texts.

/** @typedef {{keys: number[], settings: any}} Standing logs by the number they were opened under, and the settings */

/** @type {string[]} */
let past = [];
/** @type {string[]} */
let future = [];
let lastKey = "";
let lastTime = 0;

/** The next move of a control makes a step of its own. */
export function forgetStep() {
  lastKey = "";
}

export function canUndo() {
  return past.length > 0;
}

export function canRedo() {
  return future.length > 0;
}

/** Remembers what stood before a change; quick moves of one control make one step. @param {string} key what is being moved @param {string} before */
export function remembered(key, before) {
  const now = performance.now();
  if (key !== lastKey || now - lastTime > 700 || !past.length) past.push(before);
  lastKey = key;
  lastTime = now;
  future = [];
}

/** One step back; null where there is none. @param {string} now what stands @returns {Standing|null} */
export function stepBack(now) {
  return step(past, future, now);
}

/** One step forward; null where there is none. @param {string} now @returns {Standing|null} */
export function stepForward(now) {
  return step(future, past, now);
}

/** @param {string[]} from @param {string[]} to @param {string} now */
function step(from, to, now) {
  let found = from.pop();
  // A change that failed left things as they were.
  while (found === now) found = from.pop();
  if (found === undefined) return null;
  to.push(now);
  lastKey = "";
  return JSON.parse(found);
}
