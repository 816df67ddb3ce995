// @ts-check
// Counts in bins, as a specification for the core's pencil.

import { paint } from "./paint.js";

/**
 * Draws counts and says where they lie, for choosing.
 * @param {HTMLCanvasElement} canvas @param {any} bins @param {{x: string, y: string, least: number, whole?: string}} words
 */
export function drawTally(canvas, bins, words) {
  const pair = Boolean(bins.y);
  const x = { lo: bins.x.from, hi: bins.x.to, log: false };
  const y = pair ? { lo: bins.y.from, hi: bins.y.to, log: false } : { lo: 0.5, hi: Math.max(10, bins.most * 1.5), log: true };
  const frame = paint("tally", canvas, {
    margins: { top: 10, right: 16 },
    x: { kind: "linear", range: [x.lo, x.hi], title: words.x }, y: { kind: y.log ? "log" : "linear", range: [y.lo, y.hi], title: words.y },
    pair, columns: bins.columns, from: [bins.x.from, pair ? bins.y.from : 0], step: [bins.x.width, pair ? bins.y.width : 0],
    kept: bins.kept, out: bins.out, thin: bins.thin, level: pair || !(words.least > 0) ? null : words.least,
  });
  return frame ? { frame, x, y: pair ? y : null } : null;
}
