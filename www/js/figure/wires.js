// @ts-check
// The strokes that every line drawing of a wiring is made of. Units are those of the viewBox.

import { sv } from "../dom.js";

/** @param {number} x1 @param {number} y1 @param {number} x2 @param {number} y2 @param {string} [kind] */
export function stroke(x1, y1, x2, y2, kind) {
  return sv("line", { x1, y1, x2, y2, class: kind });
}

/** @param {number} x @param {number} y @param {string} words @param {string} [kind] @param {string} [anchor] */
export function label(x, y, words, kind, anchor) {
  return sv("text", { x, y, class: [kind, anchor].filter(Boolean).join(" ") || undefined }, words);
}

/** A source drawn as four plates between two rails. @param {number} x @param {number} top @param {number} bottom @param {number} [half] half the width of a long plate */
export function source(x, top, bottom, half = 12) {
  const mid = (top + bottom) / 2;
  const short = half * 0.6;
  return [
    stroke(x, top, x, mid - 9), stroke(x, mid + 9, x, bottom),
    stroke(x - half, mid - 9, x + half, mid - 9), stroke(x - short, mid - 3, x + short, mid - 3),
    stroke(x - half, mid + 3, x + half, mid + 3), stroke(x - short, mid + 9, x + short, mid + 9),
  ];
}

/** A round meter in the line, or across it. @param {number} x @param {number} y @param {string} [letter] @param {number} [r] */
export function meter(x, y, letter = "A", r = 9) {
  return [sv("circle", { cx: x, cy: y, r, class: "meter" }), label(x, y + 4, letter)];
}

/** A sense node with its letter. @param {number} x @param {number} y @param {string} name @param {number} [below] */
export function node(x, y, name, below = -10) {
  return [sv("circle", { cx: x, cy: y, r: 4, class: "node" }), label(x, y + below, name, "node")];
}

/** A plug and its socket, as two chevrons. @param {number} x @param {number} y @param {boolean} [flip] */
export function plug(x, y, flip) {
  const s = flip ? -1 : 1;
  return [sv("rect", { x: x - 7, y: y - 3, width: 14, height: 6, class: "gap" }),
    sv("path", { d: `M${x - 6 * s} ${y - 6}L${x} ${y}L${x - 6 * s} ${y + 6}M${x} ${y - 6}L${x + 6 * s} ${y}L${x} ${y + 6}M${x - 7 * s} ${y}H${x}` , class: "plug" })];
}

/**
 * A piece of resistance in the line. Four states, told apart by outline and filling besides colour.
 * @param {number} x @param {number} y @param {number} width @param {number} height @param {string} how known, sum, assumed, unknown or plain
 */
export function piece(x, y, width, height, how) {
  const [left, top] = [x - width / 2, y - height / 2];
  const parts = [sv("rect", { x: left, y: top, width, height, class: how })];
  if (how === "sum") {
    const step = Math.min(width, 7);
    for (let at = left; at < left + width - 1; at += step) {
      const end = Math.min(at + height, left + width);
      parts.push(stroke(at, top + height, end, top + height - (end - at), "hatch"));
    }
  }
  return parts;
}

/** A wire put in by hand. @param {number} x1 @param {number} y1 @param {number} x2 @param {number} y2 */
export function jumper(x1, y1, x2, y2) {
  const level = y1 === y2;
  return [stroke(x1, y1, x2, y2, "wire"), level ? [stroke(x1, y1 - 5, x1, y1 + 5), stroke(x2, y1 - 5, x2, y1 + 5)] : null];
}

/** @param {number} x @param {number} y */
export function lamp(x, y) {
  return [sv("path", { d: `M${x - 8} ${y + 4}h16l-8 13z` }), stroke(x - 8, y + 17, x + 8, y + 17), stroke(x, y, x, y + 4), stroke(x, y + 17, x, y + 26)];
}

/** A terminal of the converter. @param {number} x @param {number} y */
export function pin(x, y) {
  return sv("rect", { x: x - 3, y: y - 3, width: 6, height: 6, class: "pin" });
}

/** A loose end. @param {number} x @param {number} y */
export function loose(x, y) {
  return sv("circle", { cx: x, cy: y, r: 3.5, class: "end" });
}
