// @ts-check
// Any figure as an SVG file: its title above, below it what it shows, between which points and in which units.

import { h, offerFile } from "../dom.js";
import { inColoursOfPaper, vector, vectorOf } from "../figure/paint.js";
import { fileName } from "../figure/picture.js";
import { currentRun, report, state } from "../state.js";

/** What of a line drawing's style a file must carry. */
const STYLE = ["fill", "stroke", "stroke-width", "stroke-dasharray", "opacity", "font-family", "font-size", "font-style", "text-anchor"];

/** A drawing of the page as text of its own, in the colours of paper. @param {SVGSVGElement} drawing */
function standalone(drawing) {
  const copy = /** @type {SVGSVGElement} */ (drawing.cloneNode(true));
  const [from, to] = [drawing, copy].map((one) => [one, ...one.querySelectorAll("*")]);
  inColoursOfPaper(() => from.forEach((element, i) => {
    const style = getComputedStyle(element);
    for (const name of STYLE) to[i].setAttribute(name, style.getPropertyValue(name));
    to[i].removeAttribute("class");
  }));
  const { width, height } = drawing.getBoundingClientRect();
  copy.setAttribute("width", String(width));
  copy.setAttribute("height", String(height));
  return { svg: new XMLSerializer().serializeToString(copy), width, height };
}

/** The figure that stands nearest to a button. @param {Element} button @returns {HTMLCanvasElement|SVGSVGElement|null} */
function nearest(button) {
  for (let at = button.parentElement; at; at = at.parentElement) {
    const found = /** @type {any} */ (at.querySelector(".small canvas, svg.wires.big"));
    if (found) return found;
  }
  return null;
}

/** A figure of the page as a file. @param {HTMLCanvasElement|SVGSVGElement|null} figure @param {{title: string, lines: string[]}} words */
function fileOf(figure, words) {
  if (figure instanceof HTMLCanvasElement) return vectorOf(figure, words);
  return figure ? drawingAsFile(standalone(figure), words) : null;
}

/** A drawing of its own with title and captions around it; null before the core runs. @param {{svg: string, width: number, height: number}} drawing @param {{title: string, lines: string[]}} words */
export function drawingAsFile(drawing, words) {
  return vector("drawing", drawing, { width: 0, height: 0 }, words);
}

/**
 * The button of one figure; stands in the same box as its figure, or makes its file itself.
 * @param {{what: string, title: string, lines: (string|null|undefined)[], make?: (words: {title: string, lines: string[]}) => string|null}} o `what` ends the file's name
 */
export function svgButton(o) {
  const words = { title: o.title, lines: /** @type {string[]} */ (o.lines.filter(Boolean)) };
  return h("button", { class: "btn bare tofile", key: `svg ${o.what}`, "aria-label": `Save as SVG: ${o.title}`, onclick: (/** @type {Event} */ event) => {
    const button = /** @type {Element} */ (event.currentTarget);
    try {
      const text = o.make ? o.make(words) : fileOf(nearest(button), words);
      if (text) offerFile(fileName(currentRun()?.name ?? state.view?.inputs?.[0]?.name ?? "fixture", `${o.what}.svg`), text, "image/svg+xml");
    } catch (error) {
      report(error);
    }
  } }, "Save as SVG");
}
