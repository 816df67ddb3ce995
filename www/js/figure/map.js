// @ts-check
// Drawing the map and the strip: what stands on their layers, and asking the core for more.

import { fixed } from "../format.js";
import { ask } from "../link.js";
import { isTimed } from "../run.js";
import { changed, currentRun, overtaken, report, state } from "../state.js";
import { BLANK, wordsOf } from "../text.js";
import { boxes } from "./boxes.js";
import { drawHover } from "./hover.js";
import { paint, paintStill, themeName, vector } from "./paint.js";
import { drawStrip, drawStripCursor, pairOf, stripAsSvg, stripFrame } from "./strip.js";
import { aired, deviceSize, union } from "./view.js";

/** What the figure last drew. @type {{frame: any, x: any, y: any, range: [number, number], raster: any, strip: any, extent: any, late: boolean}} `late`: the rows are long in coming */
export const drawn = { frame: null, x: null, y: null, range: [0, 1], raster: null, strip: null, extent: null, late: false };
/** @type {Map<string, any>} extents by view number and run */
const extents = new Map();
/** The canvases by name. @type {Record<string, HTMLCanvasElement>} */
export const layers = {};

/** Extents of all runs, so that runs share axes and colours. */
async function allExtents() {
  const runs = state.view?.runs ?? [];
  const found = await Promise.all(runs.map(async (/** @type {any} */ _, /** @type {number} */ run) => {
    const key = `${state.viewNumber} ${run}`;
    if (!extents.has(key)) {
      if (extents.size > 60) extents.clear();
      extents.set(key, await ask("extent", { run }));
    }
    return extents.get(key);
  }));
  return found;
}

/** Extents of the cells that were saved with the page, until the rows can be asked. */
function savedExtents() {
  return (state.view?.runs ?? []).map((/** @type {any} */ run) => {
    const map = run.map;
    const span = (/** @type {any[]} */ cells, /** @type {string} */ of) => (cells.length ? [Math.min(...cells.map((cell) => cell[of])), Math.max(...cells.map((cell) => cell[of]))] : null);
    const cells = map?.efficiency ?? [];
    return { v_in: span(cells, "v_in"), i_out: span(cells.filter((/** @type {any} */ cell) => cell.i_out > 0), "i_out"), efficiency: span(cells, "value"), loss: span(map?.loss ?? [], "value"), rows: run.rows.read };
  });
}

/** Draws the rows anew where the figure stands, for settings on their way. */
export async function redrawRows() {
  if (!drawn.frame || !layers.raster?.isConnected || state.marks === "cells") return;
  await drawRaster(state.run, { x: drawn.x, y: drawn.y, range: drawn.range }, drawn.frame, drawing);
}

/** @param {any} range */
export function asPair(range) {
  return range ? pairOf(range) : null;
}

/** @param {any[]} all */
function axesOf(all) {
  const fit = { x: aired(union(all.map((one) => asPair(one.v_in))), false, [0, 1]), y: aired(union(all.map((one) => asPair(one.i_out))), state.logCurrent, [0.01, 1]) };
  const shown = state.frame ?? fit;
  const colours = union(all.map((one) => asPair(state.colour === "loss" ? one.loss : one.efficiency))) ?? [0, 1];
  const low = Math.max(colours[0], state.view?.colour_from ?? 0);
  return {
    x: { lo: shown.x[0], hi: shown.x[1], log: false, title: "input voltage / V" },
    y: { lo: shown.y[0], hi: shown.y[1], log: state.logCurrent, title: "output current / A" },
    range: /** @type {[number, number]} */ (state.colour === "loss" ? [0, colours[1]] : [Math.floor(low * 50) / 50, Math.min(Math.ceil(colours[1] * 50) / 50, 1)]),
  };
}

/** Most stretches of rows that are lit; a choice of more is shown by its box alone. */
const MOST_LIT = 4000;

/** The rows of the chosen finding, or those chosen in a figure. */
function litRows() {
  const picked = state.picked?.rows ?? [];
  return currentRun()?.findings?.[state.finding]?.rows ?? (picked.length <= MOST_LIT ? picked : []);
}

let drawing = 0;
export async function drawAll() {
  const mine = ++drawing;
  const run = state.run;
  if (!currentRun() || state.core !== "ready" || !layers.axes?.isConnected) return;
  try {
    const all = state.early ? savedExtents() : await allExtents();
    if (mine !== drawing) return;
    const axes = axesOf(all);
    drawn.extent = all[run];
    const frame = paintAxes(axes);
    if (!frame) return;
    Object.assign(drawn, axes, { frame });
    place(layers.raster, frame);
    drawHoverNow();
    layers.raster.hidden = state.marks === "cells" || state.early;
    if (state.early) return;
    await drawRaster(run, axes, frame, mine);
    if (mine === drawing) afterwards();
  } catch (error) {
    report(error, "points");
  }
}

/** Axes and colour bar above the raster, or the cells with theirs; gives where the frame lies. @param {any} axes */
function paintAxes(axes) {
  const [tool, spec] = overRaster(axes);
  return paint(tool, layers.axes, spec);
}

/** The tool and its specification. @param {any} axes @returns {[string, any]} */
function overRaster(axes) {
  const loss = state.colour === "loss";
  const raster = drawn.raster;
  const narrow = layers.axes.clientWidth < 560;
  const axis = (/** @type {any} */ one) => ({ kind: one.log ? "log" : "linear", range: [one.lo, one.hi], title: one.title });
  const bar = {
    ramp: state.colour, range: axes.range, title: loss ? "loss / W" : "efficiency / %", factor: loss ? 1 : 100,
    histogram: raster ? Array.from(raster.histogram) : [], below: raster?.below_share ?? 0, above: raster?.above_share ?? 0,
    mark: state.reading ? state.reading[state.colour] : null,
  };
  if (state.marks === "cells" || state.early) {
    return ["cells", {
      x: axis(axes.x), y: axis(axes.y), bar, margins: { right: narrow ? 14 : 40 },
      cells: mapCells().map(({ cell, x, y }) => ({ x, y, value: cell.value, text: fixed(cell.value * (loss ? 1 : 100), loss ? 2 : 1), hatch: cell.thin })),
    }];
  }
  const outlines = state.marks === "both" ? mapCells().map(({ x, y }) => ({ points: [[x[0], y[0]], [x[1], y[0]], [x[1], y[1]], [x[0], y[1]], [x[0], y[0]]], label: "", weight: 0.5 })) : raster?.lines ?? [];
  return ["axes", { x: axis(axes.x), y: axis(axes.y), ground: false, bar_above: narrow, margins: narrow ? {} : { bottom: 62 }, bar, lines: outlines, notes: blankNotes() }];
}

/** Cells of the map with their sides. @returns {{cell: any, x: [number, number], y: [number, number]}[]} */
function mapCells() {
  const map = currentRun()?.map;
  return boxes(map?.[state.colour] ?? [], map?.edges ?? null);
}

/** Words in the map's blank areas: one for each reason, where most of it lies. */
function blankNotes() {
  /** @type {Map<string, any[]>} */
  const byReason = new Map();
  for (const blank of currentRun()?.map?.blank ?? []) byReason.set(blank.why, [...(byReason.get(blank.why) ?? []), blank]);
  return [...byReason].filter(([, list]) => list.length > 3).map(([why, list]) => {
    const reach = (/** @type {any} */ one) => list.filter((other) => Math.abs(other.v_in - one.v_in) < 0.12 * one.v_in && Math.abs(Math.log(other.i_out / one.i_out)) < 1).length;
    const middle = list.reduce((best, one) => (reach(one) > reach(best) ? one : best), list[0]);
    return { x: middle.v_in, y: middle.i_out, text: BLANK[why] ?? wordsOf(why) };
  });
}

/** @param {number} run @param {any} axes @param {any} frame @param {number} mine */
async function drawRaster(run, axes, frame, mine) {
  const size = deviceSize(layers.raster);
  let raster;
  const late = setTimeout(() => {
    drawn.late = true;
    changed();
  }, 300);
  try {
    raster = await ask("raster", { ...rasterRequest(run, axes), width: size.width, height: size.height, ratio: size.ratio });
  } catch (error) {
    if (!overtaken(error)) throw error;
    return;
  } finally {
    clearTimeout(late);
  }
  if (mine !== drawing) return;
  drawn.late = false;
  putRaster(layers.raster, raster);
  drawn.raster = raster;
  paintAxes(axes);
  prepareStill();
}

/** @param {number} run @param {any} axes */
function rasterRequest(run, axes) {
  return {
    run, x: [axes.x.lo, axes.x.hi], y: [axes.y.lo, axes.y.hi], y_log: axes.y.log,
    colour: state.colour, range: axes.range, rejected: state.rejected, highlight: litRows(), theme: themeName(), selection: state.selection,
  };
}

/** @param {HTMLCanvasElement} canvas @param {any} raster */
function putRaster(canvas, raster) {
  canvas.width = raster.width;
  canvas.height = raster.height;
  const context = /** @type {CanvasRenderingContext2D} */ (canvas.getContext("2d"));
  context.putImageData(new ImageData(new Uint8ClampedArray(raster.pixels), raster.width, raster.height), 0, 0);
}

// --- paper and files -----------------------------------------------------------------------------

/** Pixels of a still by CSS pixel. */
const STILL_RATIO = 2;
let stillTimer = 0;
/** Rows in the colours of paper. @type {{drawing: number, canvas: HTMLCanvasElement}|null} */
let stillRows = null;

/** Paper is white: a dark page keeps its rows in the colours of paper, ready for the print command. */
function prepareStill() {
  stillRows = null;
  clearTimeout(stillTimer);
  if (themeName() === "dark") stillTimer = setTimeout(() => rowsForPaper().catch(() => {}), 1500);
}

async function rowsForPaper() {
  const mine = drawing;
  if (state.marks === "cells" || state.early || !drawn.frame) return;
  if (stillRows?.drawing === mine) return;
  const frame = drawn.frame;
  const size = { width: Math.round(frame.width * STILL_RATIO), height: Math.round(frame.height * STILL_RATIO), ratio: STILL_RATIO };
  const raster = await ask("raster", { ...rasterRequest(state.run, { x: drawn.x, y: drawn.y, range: drawn.range }), ...size, theme: "print", still: true }, { latest: false });
  const canvas = document.createElement("canvas");
  putRaster(canvas, raster);
  if (mine === drawing) stillRows = { drawing: mine, canvas };
}

/** The figure in the colours of paper, at once: with the rows as they stand on the screen where no others are ready. @returns {{canvas: HTMLCanvasElement, width: number, height: number}|null} */
export function stillNow() {
  if (!drawn.frame) return null;
  const [width, height] = [layers.axes.clientWidth, layers.axes.clientHeight];
  const [tool, spec] = overRaster({ x: drawn.x, y: drawn.y, range: drawn.range });
  const over = paintStill(tool, spec, { width, height, ratio: STILL_RATIO });
  if (!over) return null;
  const canvas = document.createElement("canvas");
  canvas.width = over.width;
  canvas.height = over.height;
  const pen = /** @type {CanvasRenderingContext2D} */ (canvas.getContext("2d"));
  pen.fillStyle = "#fff";
  pen.fillRect(0, 0, canvas.width, canvas.height);
  const rows = stillRows?.drawing === drawing ? stillRows.canvas : layers.raster;
  const { left, top, width: wide, height: high } = drawn.frame;
  if (!layers.raster.hidden && rows.width) pen.drawImage(rows, left * STILL_RATIO, top * STILL_RATIO, wide * STILL_RATIO, high * STILL_RATIO);
  pen.drawImage(over, 0, 0);
  return { canvas, width, height };
}

/** The figure in the colours of paper, its rows as fine as the rest. */
export async function still() {
  await rowsForPaper();
  return stillNow();
}

/** The figure as an SVG file: axes, lines and words as such, the rows as a picture in the frame. @param {{title: string, lines: string[]}} words */
export async function vectorStill(words) {
  await rowsForPaper();
  if (!drawn.frame) return null;
  const [tool, spec] = overRaster({ x: drawn.x, y: drawn.y, range: drawn.range });
  const rows = tool === "cells" ? null : stillRows?.canvas ?? layers.raster;
  return vector(tool, spec, { width: layers.axes.clientWidth, height: layers.axes.clientHeight }, { ...words, picture: rows?.toDataURL("image/png") ?? null });
}

/** @param {HTMLElement} element @param {any} frame */
function place(element, frame) {
  element.style.left = `${frame.left}px`;
  element.style.top = `${frame.top}px`;
  element.style.width = `${frame.width}px`;
  element.style.height = `${frame.height}px`;
}

export function drawHoverNow() {
  if (drawn.frame && layers.hover?.isConnected) drawHover(layers.hover, drawn, state.reading);
  if (layers.cursor?.isConnected) drawStripCursor(layers.cursor, drawn.strip, state.reading?.time ?? null, state.selection);
}

/** What is laid over the figure once it is drawn. @type {() => void} */
let afterwards = () => {};

/** @param {() => void} work */
export function afterDrawing(work) {
  afterwards = work;
}

let stripKey = "";
export async function drawStripNow() {
  const canvas = layers.strip;
  if (!currentRun() || state.early || state.core !== "ready" || !canvas?.isConnected) return;
  const box = canvas.getBoundingClientRect();
  const frame = stripFrame(box.width);
  const key = `${state.viewNumber} ${state.run} ${Math.round(frame.width)}`;
  if (key !== stripKey) {
    stripKey = key;
    try {
      drawn.strip = await ask("strip", { run: state.run, width: Math.round(frame.width) });
    } catch (error) {
      stripKey = "";
      if (!overtaken(error)) report(error, "points");
      return;
    }
  }
  redrawStrip();
  drawHoverNow();
}

/** Draws the strip from what is at hand. */
export function redrawStrip() {
  const canvas = layers.strip;
  if (!canvas?.isConnected || !drawn.strip) return;
  drawStrip(canvas, drawn.strip, isTimed(currentRun()), asPair(drawn.extent?.efficiency));
}

/** The strip as a drawing of its own; null before there is one. */
export function stripStill() {
  return drawn.strip ? stripAsSvg(drawn.strip, isTimed(currentRun()), asPair(drawn.extent?.efficiency)) : null;
}
