// @ts-check
// What part of the plane a figure shows: zoom, pan and fit. Ranges here are never empty or reversed.

/** @typedef {{lo: number, hi: number, log: boolean}} Axis */

/** @param {Axis} axis @param {number} value @returns {number} share along the axis */
export function along(axis, value) {
  if (axis.log) return Math.log(value / axis.lo) / Math.log(axis.hi / axis.lo);
  return (value - axis.lo) / (axis.hi - axis.lo);
}

/** @param {Axis} axis @param {number} share @returns {number} value there */
export function valueAt(axis, share) {
  if (axis.log) return axis.lo * (axis.hi / axis.lo) ** share;
  return axis.lo + (axis.hi - axis.lo) * share;
}

/** @param {number} lo @param {number} hi */
function sound(lo, hi) {
  return Number.isFinite(lo) && Number.isFinite(hi) && hi - lo > 1e-9 * Math.max(Math.abs(lo), Math.abs(hi), 1e-6);
}

/** Narrows or widens about a place; unchanged where the result would be no range. @param {Axis} axis @param {number} factor below 1 zooms in @param {number} about share along the axis @returns {[number, number]} */
export function zoomed(axis, factor, about) {
  const lo = valueAt(axis, about - about * factor);
  const hi = valueAt(axis, about + (1 - about) * factor);
  return sound(lo, hi) && hi < 1e6 && (!axis.log || lo > 1e-9) ? [lo, hi] : [axis.lo, axis.hi];
}

/** Moves by a share of what is shown. @param {Axis} axis @param {number} share @returns {[number, number]} */
export function moved(axis, share) {
  const lo = valueAt(axis, share);
  const hi = valueAt(axis, 1 + share);
  return sound(lo, hi) && Math.abs(hi) < 1e6 ? [lo, hi] : [axis.lo, axis.hi];
}

/** A little air around a range. @param {[number, number]|null|undefined} range @param {boolean} log @param {[number, number]} otherwise @returns {[number, number]} */
export function aired(range, log, otherwise) {
  if (!range || !sound(range[0], range[1])) return range && Number.isFinite(range[0]) && range[0] > 0 ? [range[0] * 0.95, range[0] * 1.05] : otherwise;
  const axis = { lo: log ? Math.max(range[0], range[1] * 1e-4) : range[0], hi: range[1], log };
  return zoomed(axis, 1.06, 0.5);
}

/** The range that holds all of some. @param {([number, number]|null|undefined)[]} ranges @returns {[number, number]|null} */
export function union(ranges) {
  const there = /** @type {[number, number][]} */ (ranges.filter(Boolean));
  return there.length ? [Math.min(...there.map((one) => one[0])), Math.max(...there.map((one) => one[1]))] : null;
}

/** Size of an element in device pixels and the ratio. @param {Element} element */
export function deviceSize(element) {
  const box = element.getBoundingClientRect();
  const ratio = window.devicePixelRatio || 1;
  return { width: Math.max(1, Math.round(box.width * ratio)), height: Math.max(1, Math.round(box.height * ratio)), ratio, cssWidth: box.width, cssHeight: box.height };
}

/** Gives a canvas the pixels of its place and clears it. @param {HTMLCanvasElement} canvas */
export function fitCanvas(canvas) {
  const size = deviceSize(canvas);
  if (canvas.width !== size.width || canvas.height !== size.height) {
    canvas.width = size.width;
    canvas.height = size.height;
  }
  const context = /** @type {CanvasRenderingContext2D} */ (canvas.getContext("2d"));
  context.setTransform(1, 0, 0, 1, 0, 0);
  context.clearRect(0, 0, canvas.width, canvas.height);
  context.setTransform(size.ratio, 0, 0, size.ratio, 0, 0);
  return { context, ...size };
}
