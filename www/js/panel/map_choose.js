// @ts-check
// Choosing rows in the map and in the strip under it: boxes and stretches, by drag or between two rows.

import { sv } from "../dom.js";
import { fixed, span } from "../format.js";
import { choose, letGo } from "../hand.js";
import { set, state } from "../state.js";
import { boxRect } from "../figure/chooser.js";
import { drawn } from "../figure/map.js";
import { valueAt } from "../figure/view.js";

/** @typedef {{x: [number, number], y: [number, number]}} Box volts and amperes */
/** The box being drawn or last drawn, and the choice it made. @type {{box: Box|null, number: number}} */
export const drawnBox = { box: null, number: -1 };
/** The row at which a box or a stretch was begun by key. @type {any} */
let anchor = null;

/** @param {{x: number, y: number}} a @param {{x: number, y: number}} b in pixels of the frame @returns {Box} */
export function boxBetween(a, b) {
  const frame = drawn.frame;
  const share = (/** @type {number} */ pixel, /** @type {number} */ length) => Math.min(1, Math.max(0, pixel / length));
  const side = (/** @type {any} */ axis, /** @type {number} */ p, /** @type {number} */ q) => /** @type {[number, number]} */ ([valueAt(axis, Math.min(p, q)), valueAt(axis, Math.max(p, q))]);
  return { x: side(drawn.x, share(a.x, frame.width), share(b.x, frame.width)), y: side(drawn.y, 1 - share(a.y, frame.height), 1 - share(b.y, frame.height)) };
}

/** Chooses the rows shown in a box of the map; within the stretch of time, where one is set. @param {Box} box */
export async function chooseBox(box) {
  drawnBox.box = box;
  const time = state.selection ? { time: state.selection } : {};
  const made = await choose({ v_in: box.x, i_out: box.y, shown: true, ...(state.rejected ? {} : { kept: true }), ...time }, `Input ${fixed(box.x[0], 2)} to ${fixed(box.x[1], 2)} V, output ${fixed(box.y[0], 3)} to ${fixed(box.y[1], 3)} A${state.selection ? ", within the stretch of time" : ""}.`);
  drawnBox.number = made?.number ?? -1;
}

/** Chooses a stretch of time. @param {[number, number]} time */
export function chooseTime(time) {
  return choose({ time }, `From ${span(time[0], true)} to ${span(time[1], true)}.`);
}

/** Begins at the row under the cursor, or ends there: a box in the map, a stretch in the strip. @param {boolean} inStrip */
export function anchorOrEnd(inStrip) {
  const now = state.reading;
  if (!now) return;
  if (!anchor || anchor.run !== state.run) {
    anchor = { run: state.run, row: now.row, time: now.time, v_in: now.v_in, i_out: now.i_out };
    choose({ rows: [now.row, now.row] }, inStrip ? "Walk on and press Enter: the stretch between." : "Walk on and press Enter: the box between.");
    return;
  }
  const pair = (/** @type {number} */ a, /** @type {number} */ b) => /** @type {[number, number]} */ (a < b ? [a, b] : [b, a]);
  const from = anchor;
  anchor = null;
  if (inStrip) {
    const time = pair(from.time, now.time);
    set({ selection: time });
    chooseTime(time);
  } else chooseBox({ x: pair(from.v_in, now.v_in), y: pair(from.i_out, now.i_out) });
}

export function dropChoice() {
  anchor = null;
  drawnBox.box = null;
  letGo();
}

/** The box that was drawn. */
export function boxMark() {
  const mine = drawnBox.number === -1 || state.picked?.number === drawnBox.number;
  if (!drawnBox.box || !drawn.frame || !drawn.x || !mine) return null;
  return sv("svg", { class: "chosen", key: "box", "aria-hidden": "true" }, boxRect({ frame: drawn.frame, x: drawn.x, y: drawn.y }, drawnBox.box));
}
