// @ts-check
// Small figures of the cards and sheets, as specifications for the core's pencil.

import { paint } from "./paint.js";

/** @param {number[]} values @param {number} share of the span added at both ends @returns {[number, number]} */
function around(values, share) {
  const there = values.filter(Number.isFinite);
  const [lo, hi] = [Math.min(...there), Math.max(...there)];
  const air = (hi - lo) * share || Math.abs(hi) * 1e-3 || 1;
  return [lo - air, hi + air];
}

/** Share of rows out against least rows. @param {HTMLCanvasElement} canvas @param {any} sieve @param {number} now */
export function drawShareOut(canvas, sieve, now) {
  /** @type {[number, number][]} */
  const points = sieve.share_out;
  const at = points.find(([least]) => least === now);
  paint("curves", canvas, {
    margins: { right: 8, top: 6 },
    x: { range: [0, points[points.length - 1][0]] }, y: { range: [0, Math.max(...points.map(([, share]) => share), 1e-4) * 1.08], factor: 100, most: 3 },
    shade: sieve.plateau ? [sieve.plateau] : [],
    uprights: [{ x: now, dot: at ? at[1] : null, ink: "copper" }],
    series: [{ x: points.map(([least]) => least), y: points.map(([, share]) => share), ink: "ink" }],
  });
}

/** The calibration resistor before and after correction. @param {HTMLCanvasElement} canvas @param {any} resistor */
export function drawTrack(canvas, resistor) {
  const track = resistor.track;
  const all = track.flatMap((/** @type {any} */ one) => [one.before, one.after]).filter(Number.isFinite);
  if (!all.length) return;
  const x = track.map((/** @type {any} */ one) => one.time);
  const minutes = x[x.length - 1] - x[0] > 150;
  /** @param {string} key */
  const series = (key) => ({ x, y: track.map((/** @type {any} */ one) => one[key]), stroke: "none", mark: key === "before" ? "ring" : "dot", ink: key === "before" ? "second" : "copper", label: key });
  paint("curves", canvas, {
    x: { range: [x[0], x[x.length - 1]], title: minutes ? "time / min" : "time / s", factor: minutes ? 1 / 60 : 1 }, y: { range: around(all, 0.08), title: "resistance / Ω" },
    series: [series("before"), series("after")],
  });
}

/** What is left of a straight-through run after correction. @param {HTMLCanvasElement} canvas @param {any} residual @param {"i"|"time"} against */
export function drawResidual(canvas, residual, against) {
  const points = residual.points;
  const x = points.map((/** @type {any} */ one) => one[against]);
  const all = points.map((/** @type {any} */ one) => one.left);
  const minutes = against === "time" && Math.max(...x) - Math.min(...x) > 150;
  /** @param {boolean} rising */
  const part = (rising) => points.filter((/** @type {any} */ one) => one.rising === rising);
  /** @param {any[]} some @param {string} mark @param {string} ink */
  const series = (some, mark, ink) => ({ x: some.map((one) => one[against]), y: some.map((one) => one.left), stroke: "none", mark, ink });
  paint("curves", canvas, {
    x: { range: [Math.min(...x), Math.max(...x)], title: against === "i" ? "current / A" : minutes ? "time / min" : "time / s", factor: minutes ? 1 / 60 : 1 },
    y: { range: around([...all, 0], 0.08), factor: 100, title: "corrected less 100 / points" }, levels: [0],
    series: [series(part(true), "dot", "copper"), series(part(false), "ring", "second")].filter((one) => one.x.length),
  });
}

/** Straight-through efficiency by current band. @param {HTMLCanvasElement} canvas @param {any[]} bands */
export function drawBands(canvas, bands) {
  const items = bands.map((band) => {
    const value = band.efficiency?.value ?? null;
    const reach = band.efficiency?.u === null || band.efficiency?.u === undefined || value === null ? null : 1.96 * band.efficiency.u;
    return { name: `${Number(band.i_from.toPrecision(2))}–${Number(band.i_to.toPrecision(2))}`, value, low: reach === null ? null : value - reach, high: reach === null ? null : value + reach, ink: "copper" };
  });
  const ends = items.flatMap((item) => [item.value, item.low, item.high]).filter((value) => value !== null);
  if (!ends.length) return;
  const reach = Math.max(...ends.map((value) => Math.abs(value - 1)), 2e-4) * 1.15;
  paint("bars", canvas, { title: "current band / A; bars are 95 %", y: { range: [1 - reach, 1 + reach], factor: 100, title: "efficiency / %" }, level: 1, items });
}

/**
 * Efficiency or loss against output current, one line per series.
 * @param {HTMLCanvasElement} canvas @param {{label: string, kind: number, cells: any[]}[]} series @param {{log: boolean, loss: boolean}} how
 */
export function drawCurves(canvas, series, how) {
  const cells = series.flatMap((one) => one.cells);
  if (!cells.length) return null;
  const currents = cells.map((cell) => cell.i_out);
  const x = how.log ? [Math.min(...currents) * 0.92, Math.max(...currents) * 1.06] : [0, Math.max(...currents) * 1.03];
  const y = around(cells.map((cell) => cell.value), 0.06);
  const frame = paint("curves", canvas, {
    hairlines: true,
    x: { kind: how.log ? "log" : "linear", range: x, title: "output current / A" },
    y: { range: y, factor: how.loss ? 1 : 100, title: how.loss ? "loss / W" : "efficiency / %" },
    series: series.map((one, i) => ({
      x: one.cells.map((cell) => cell.i_out), y: one.cells.map((cell) => cell.value),
      low: one.cells.map((cell) => (cell.u === null ? null : cell.value - 1.96 * cell.u)), high: one.cells.map((cell) => (cell.u === null ? null : cell.value + 1.96 * cell.u)),
      ink: ["copper", "slate", "second"][one.kind], stroke: ["line", "dashed", "dotted"][one.kind], mark: one.kind === 1 ? "square" : "dot", weight: 1 + (i % 3) * 0.5, label: one.label,
    })),
  });
  return frame ? { frame, x: { lo: x[0], hi: x[1], log: how.log }, y: { lo: y[0], hi: y[1], log: false } } : null;
}
