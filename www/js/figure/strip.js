// @ts-check
// The time strip: voltage, current and efficiency against time, rows out below, cursor and selection.

import { colourOf } from "../dom.js";
import { fixed } from "../format.js";
import { fitCanvas } from "./view.js";

const LEFT = 60;
const RIGHT = 108;
const LANES = [["v_in", "V in", "V"], ["i_out", "I out", "A"], ["efficiency", "η", "%"]];

/** Where the strip's time axis lies. @param {number} width */
export function stripFrame(width) {
  const narrow = width < 560;
  const left = narrow ? 44 : LEFT;
  return { left, width: Math.max(10, width - left - (narrow ? 8 : RIGHT)), narrow };
}

/** @param {any} time a range as pair or object @returns {[number, number]} */
export function pairOf(time) {
  if (Array.isArray(time)) return [time[0], time[1]];
  return [time?.lo ?? 0, time?.hi ?? 1];
}

/** @param {ArrayLike<number>} low @param {ArrayLike<number>} high */
function ends(low, high) {
  let lo = Infinity;
  let hi = -Infinity;
  for (let i = 0; i < low.length; i += 1) {
    if (low[i] < lo) lo = low[i];
    if (high[i] > hi) hi = high[i];
  }
  return lo <= hi ? [lo, hi] : null;
}

/** Columns that hold a row. @param {any} envelope */
function filled(envelope) {
  let n = 0;
  for (let c = 0; c < envelope.min.length; c += 1) if (envelope.min[c] <= envelope.max[c]) n += 1;
  return n;
}

/** @param {number} value @param {string} unit */
function endText(value, unit) {
  return unit === "%" ? fixed(value * 100, 0) : fixed(value, 2);
}

/**
 * Draws the lanes; the cursor has its own canvas so that moving it draws nothing else.
 * @param {HTMLCanvasElement} canvas @param {any} strip @param {number[]} ticks times at which to name the axis @param {{unit: string, seconds: number}} scale
 * @param {[number, number]|null} efficiency where most of it lies; a stray row beyond is drawn at the edge
 */
export function drawStrip(canvas, strip, ticks, scale, efficiency) {
  const { context: pen, cssWidth, cssHeight } = fitCanvas(canvas);
  if (!strip) return;
  const frame = stripFrame(cssWidth);
  const [ink, ink2, copper, line] = ["ink", "ink2", "copper", "line"].map(colourOf);
  const axisY = cssHeight - 20;
  const lane = (axisY - 16) / 3;
  pen.font = "12px 'Segoe UI', 'Helvetica Neue', 'Liberation Sans', Arial, sans-serif";
  pen.textBaseline = "middle";
  LANES.forEach(([key, name, unit], i) => {
    const envelope = strip[key];
    const range = key === "efficiency" && efficiency ? efficiency : envelope && ends(envelope.min, envelope.max);
    const top = 2 + i * lane;
    pen.fillStyle = ink2;
    pen.textAlign = "right";
    pen.fillText(name, frame.left - 8, top + lane / 2);
    if (!range) return;
    pen.textAlign = "left";
    if (!frame.narrow) pen.fillText(`${endText(range[0], unit)} to ${endText(range[1], unit)} ${unit}`, frame.left + frame.width + 10, top + lane / 2);
    const size = range[1] - range[0] || 1;
    const y = (/** @type {number} */ value) => top + 3 + (lane - 8) * (1 - Math.min(1, Math.max(0, (value - range[0]) / size)));
    pen.fillStyle = key === "efficiency" ? line : ink;
    const columns = envelope.min.length;
    const step = frame.width / columns;
    // Few rows stand apart: each as a dot that can be seen.
    const least = filled(envelope) < columns / 3 ? 2.5 : 1;
    for (let c = 0; c < columns; c += 1) {
      const low = envelope.min[c];
      if (!(low <= envelope.max[c])) continue;
      const y1 = y(envelope.max[c]);
      pen.fillRect(frame.left + c * step, y1 - (least - 1) / 2, Math.max(step, least * 0.6), Math.max(least, y(low) - y1));
    }
  });
  pen.fillStyle = copper;
  pen.textAlign = "right";
  pen.fillText("out", frame.left - 8, axisY - 7);
  const out = strip.out ?? [];
  const step = frame.width / Math.max(1, out.length);
  for (let c = 0; c < out.length; c += 1) if (out[c] > 0) pen.fillRect(frame.left + c * step, axisY - 11, Math.max(1, step), 8);
  pen.strokeStyle = ink;
  pen.lineWidth = 1;
  pen.beginPath();
  pen.moveTo(frame.left, axisY + 0.5);
  pen.lineTo(frame.left + frame.width, axisY + 0.5);
  const [from, to] = pairOf(strip.time);
  for (const tick of ticks) {
    const x = Math.round(frame.left + (frame.width * (tick - from)) / (to - from)) + 0.5;
    pen.moveTo(x, axisY + 0.5);
    pen.lineTo(x, axisY - 3.5);
    pen.fillStyle = ink2;
    pen.textAlign = "center";
    pen.fillText(fixed(tick / scale.seconds, tick % scale.seconds === 0 ? 0 : 1), x, axisY + 12);
  }
  pen.stroke();
  pen.textAlign = "left";
  if (!frame.narrow) pen.fillText(scale.unit ? `time / ${scale.unit}` : "row", frame.left + frame.width + 22, axisY + 12);
}

/**
 * The cursor and the selection.
 * @param {HTMLCanvasElement} canvas @param {any} strip @param {number|null} time @param {[number, number]|null} selection
 */
export function drawStripCursor(canvas, strip, time, selection) {
  const { context: pen, cssWidth, cssHeight } = fitCanvas(canvas);
  if (!strip) return;
  const frame = stripFrame(cssWidth);
  const [from, to] = pairOf(strip.time);
  const x = (/** @type {number} */ at) => frame.left + (frame.width * (Math.min(to, Math.max(from, at)) - from)) / (to - from);
  const copper = colourOf("copper");
  if (selection) {
    pen.globalAlpha = 0.16;
    pen.fillStyle = copper;
    pen.fillRect(x(selection[0]), 0, Math.max(1, x(selection[1]) - x(selection[0])), cssHeight - 20);
    pen.globalAlpha = 1;
    pen.strokeStyle = copper;
    pen.strokeRect(x(selection[0]), 0.5, Math.max(1, x(selection[1]) - x(selection[0])), cssHeight - 20.5);
  }
  if (time === null || !Number.isFinite(time)) return;
  const at = Math.round(x(time)) + 0.5;
  pen.strokeStyle = copper;
  pen.beginPath();
  pen.moveTo(at, 0);
  pen.lineTo(at, cssHeight - 20);
  pen.stroke();
  pen.fillStyle = copper;
  pen.beginPath();
  pen.arc(at, cssHeight - 20, 3.5, 0, 7);
  pen.fill();
}

/** Even times to name, and their unit. @param {[number, number]} time @param {number} most @param {boolean} [timed] else rows are counted */
export function timeTicks(time, most, timed = true) {
  const length = time[1] - time[0];
  const scale = !timed ? { unit: "", seconds: 1 } : length > 3 * 3600 ? { unit: "h", seconds: 3600 } : length > 180 ? { unit: "min", seconds: 60 } : { unit: "s", seconds: 1 };
  const steps = [0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10000];
  const step = (steps.find((one) => length / (one * scale.seconds) <= most) ?? 20000) * scale.seconds;
  const ticks = [];
  const first = Math.ceil(time[0] / step - 1e-9);
  for (let k = first; k * step <= time[1] * (1 + 1e-12) && ticks.length < 40; k += 1) ticks.push(k * step);
  return { ticks, scale };
}
