// @ts-check
// What an interval is made of, as bars with their numbers.

import { h, sv } from "../dom.js";
import { decimalsFor, fixed } from "../format.js";
import { PART, wordsOf } from "../text.js";

const SCATTER = ["random", "scatter", "noise"];

/** Parts of a reading's 95 % interval, in points. @param {any} reading @returns {{name: string, points: number}[]} */
export function partsOf(reading) {
  return (reading?.parts ?? []).filter((/** @type {any} */ part) => part.points > 0);
}

/** @param {{name: string, points: number}[]} parts */
export function partBars(parts) {
  const most = Math.max(...parts.map((part) => part.points), 1e-30);
  return h("div", { class: "parts" }, parts.map((part) => [
    h("span", null, PART[part.name] ?? wordsOf(part.name)),
    sv("svg", { viewBox: "0 0 100 6", preserveAspectRatio: "none", "aria-hidden": "true" }, sv("rect", { x: 0, y: 0, width: (100 * part.points) / most, height: 6, class: SCATTER.includes(part.name) ? "scatter" : undefined })),
    h("span", null, fixed(part.points, decimalsFor(part.points)))]));
}
