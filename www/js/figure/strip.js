// @ts-check
// The time strip: voltage, current and efficiency against time, rows out below, cursor and selection.

import { colourOf } from "../dom.js";
import { fixed } from "../format.js";
import { inColoursOfPaper } from "./paint.js";
import { asSvg, onCanvas } from "./strokes.js";
import { fitCanvas } from "./view.js";

const LEFT = 60;
const RIGHT = 124;
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
 * @param {HTMLCanvasElement} canvas @param {any} strip @param {boolean} timed whether its rows have times @param {[number, number]|null} efficiency as for {@link lay}
 */
export function drawStrip(canvas, strip, timed, efficiency) {
  const { context, cssWidth: width, cssHeight: height } = fitCanvas(canvas);
  if (strip) lay(onCanvas(context), { width, height }, strip, timed, efficiency);
}

/** The lanes as a drawing of its own, in the colours of paper. @param {any} strip @param {boolean} timed @param {[number, number]|null} efficiency as for {@link lay} */
export function stripAsSvg(strip, timed, efficiency) {
  const size = { width: 960, height: 196 };
  return { svg: inColoursOfPaper(() => asSvg(size, (strokes) => lay(strokes, size, strip, timed, efficiency))), ...size };
}

/**
 * @param {import("./strokes.js").Strokes} strokes @param {{width: number, height: number}} size in CSS pixels @param {any} strip @param {boolean} timed
 * @param {[number, number]|null} efficiency where most of it lies; a stray row beyond is drawn at the edge
 */
function lay(strokes, size, strip, timed, efficiency) {
  const frame = stripFrame(size.width);
  const [ink, ink2, copper, line] = ["ink", "ink2", "copper", "line"].map(colourOf);
  const axisY = size.height - 20;
  const lane = (axisY - 16) / 3;
  const right = frame.left + frame.width;
  LANES.forEach(([key, name, unit], i) => {
    const envelope = strip[key];
    const range = key === "efficiency" && efficiency ? efficiency : envelope && ends(envelope.min, envelope.max);
    const top = 2 + i * lane;
    strokes.words(name, frame.left - 8, top + lane / 2, "end", ink2);
    if (!range) return;
    if (!frame.narrow) strokes.words(`${endText(range[0], unit)} to ${endText(range[1], unit)} ${unit}`, right + 10, top + lane / 2, "start", ink2);
    const span = range[1] - range[0] || 1;
    const y = (/** @type {number} */ value) => top + 3 + (lane - 8) * (1 - Math.min(1, Math.max(0, (value - range[0]) / span)));
    const columns = envelope.min.length;
    const step = frame.width / columns;
    // Few rows stand apart: each as a dot that can be seen.
    const least = filled(envelope) < columns / 3 ? 2.5 : 1;
    /** @type {import("./strokes.js").Box[]} */
    const boxes = [];
    for (let c = 0; c < columns; c += 1) {
      const low = envelope.min[c];
      if (!(low <= envelope.max[c])) continue;
      const y1 = y(envelope.max[c]);
      boxes.push([frame.left + c * step, y1 - (least - 1) / 2, Math.max(step, least * 0.6), Math.max(least, y(low) - y1)]);
    }
    strokes.boxes(boxes, key === "efficiency" ? line : ink);
  });
  strokes.words("out", frame.left - 8, axisY - 7, "end", copper);
  const out = /** @type {number[]} */ ([...strip.out ?? []]);
  const step = frame.width / Math.max(1, out.length);
  strokes.boxes(out.flatMap((rows, c) => (rows > 0 ? [/** @type {import("./strokes.js").Box} */ ([frame.left + c * step, axisY - 11, Math.max(1, step), 8])] : [])), copper);
  const [from, to] = pairOf(strip.time);
  const { ticks, scale } = timeTicks([from, to], frame.narrow ? 5 : 9, timed);
  const x = (/** @type {number} */ tick) => Math.round(frame.left + (frame.width * (tick - from)) / (to - from)) + 0.5;
  strokes.lines([[frame.left, axisY + 0.5, right, axisY + 0.5], ...ticks.map((tick) => /** @type {import("./strokes.js").Line} */ ([x(tick), axisY + 0.5, x(tick), axisY - 3.5]))], ink);
  ticks.forEach((tick, i) => {
    // Where there is no room beside the axis, its last number carries the unit.
    const unit = frame.narrow && i === ticks.length - 1 ? ` ${scale.unit || "rows"}` : "";
    const words = fixed(tick / scale.seconds, tick % scale.seconds === 0 ? 0 : 1) + unit;
    strokes.words(words, Math.min(x(tick), size.width - 4 * words.length), axisY + 12, "middle", ink2);
  });
  if (!frame.narrow) strokes.words(scale.unit ? `time / ${scale.unit}` : "row", right + 22, axisY + 12, "start", ink2);
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

/** Even times to name, and their unit. @param {[number, number]} time @param {number} most @param {boolean} timed else rows are counted */
function timeTicks(time, most, timed) {
  const length = time[1] - time[0];
  const scale = !timed ? { unit: "", seconds: 1 } : length > 3 * 3600 ? { unit: "h", seconds: 3600 } : length > 180 ? { unit: "min", seconds: 60 } : { unit: "s", seconds: 1 };
  const steps = [0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10000];
  const step = (steps.find((one) => length / (one * scale.seconds) <= most) ?? 20000) * scale.seconds;
  const ticks = [];
  const first = Math.ceil(time[0] / step - 1e-9);
  for (let k = first; k * step <= time[1] * (1 + 1e-12) && ticks.length < 40; k += 1) ticks.push(k * step);
  return { ticks, scale };
}
