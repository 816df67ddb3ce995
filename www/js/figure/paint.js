// @ts-check
// What the core's pencil is asked to draw on this page's canvases. The pencil makes scales and ticks.

import { pencil } from "../link.js";
import { deviceSize, fitCanvas } from "./view.js";

/** @typedef {{left: number, top: number, width: number, height: number}} Frame in CSS pixels */

/** @returns {"light"|"dark"|"print"} */
export function themeName() {
  return document.documentElement.dataset.theme === "dark" ? "dark" : "light";
}

/** Does something while the page has the colours of paper: at once, and put back before anything is painted. @template T @param {() => T} work @returns {T} */
export function inColoursOfPaper(work) {
  const root = document.documentElement;
  const theme = root.dataset.theme;
  root.dataset.theme = "light";
  try {
    return work();
  } finally {
    if (theme === undefined) delete root.dataset.theme;
    else root.dataset.theme = theme;
  }
}

/** Draws for paper or a file, on a canvas of its own and always in the colours of paper. @param {string} tool @param {any} spec @param {{width: number, height: number, ratio: number}} size in CSS pixels @returns {HTMLCanvasElement|null} */
export function paintStill(tool, spec, size) {
  const pen = pencil();
  if (!pen) return null;
  const canvas = document.createElement("canvas");
  canvas.width = Math.round(size.width * size.ratio);
  canvas.height = Math.round(size.height * size.ratio);
  pen[tool](canvas, { ...size, ...spec, theme: "print" });
  return canvas;
}

/** What each canvas was last asked to show. @type {WeakMap<HTMLCanvasElement, {tool: string, spec: any, width: number, height: number}>} */
const painted = new WeakMap();

/**
 * A figure of the pencil as an SVG file; null before the core runs.
 * @param {string} tool @param {any} spec @param {{width: number, height: number}} size in CSS pixels @param {{title: string, lines: string[], picture?: string|null}} words
 * @returns {string|null}
 */
export function vector(tool, spec, size, words) {
  return pencil()?.vector(document.createElement("canvas"), tool, { ...size, ratio: 1, ...spec, theme: "print" }, words) ?? null;
}

/** The figure of a canvas as an SVG file, as it was last drawn. @param {HTMLCanvasElement} canvas @param {{title: string, lines: string[]}} words */
export function vectorOf(canvas, words) {
  const last = painted.get(canvas);
  return last ? vector(last.tool, last.spec, { width: last.width, height: last.height }, words) : null;
}

/**
 * Draws with one of the pencil's tools; null before the core runs.
 * @param {string} tool @param {HTMLCanvasElement} canvas @param {any} spec @returns {Frame|null}
 */
export function paint(tool, canvas, spec) {
  const pen = pencil();
  const size = deviceSize(canvas);
  if (!pen || size.cssWidth < 20 || size.cssHeight < 20) return null;
  fitCanvas(canvas);
  const context = /** @type {CanvasRenderingContext2D} */ (canvas.getContext("2d"));
  context.setTransform(1, 0, 0, 1, 0, 0);
  painted.set(canvas, { tool, spec, width: size.cssWidth, height: size.cssHeight });
  return pen[tool](canvas, { width: size.cssWidth, height: size.cssHeight, ratio: size.ratio, theme: themeName(), ...spec });
}
