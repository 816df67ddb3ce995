// @ts-check
// Any figure as an SVG file: its title above, below it what it shows, between which points and in which units.

import { h, offerFile } from "../dom.js";
import { vector, vectorOf } from "../figure/paint.js";
import { fileName } from "../figure/picture.js";
import { currentRun, report, state } from "../state.js";

/** What of a line drawing's style a file must carry. */
const STYLE = ["fill", "stroke", "stroke-width", "stroke-dasharray", "opacity", "font-family", "font-size", "font-style", "text-anchor"];

/** A drawing of the page as text of its own, in the colours of paper. @param {SVGSVGElement} drawing */
function standalone(drawing) {
  const root = document.documentElement;
  const theme = root.dataset.theme;
  // Read at once and put back before anything is painted.
  root.dataset.theme = "light";
  const copy = /** @type {SVGSVGElement} */ (drawing.cloneNode(true));
  const [from, to] = [drawing, copy].map((one) => [one, ...one.querySelectorAll("*")]);
  from.forEach((element, i) => {
    const style = getComputedStyle(element);
    for (const name of STYLE) to[i].setAttribute(name, style.getPropertyValue(name));
    to[i].removeAttribute("class");
  });
  if (theme === undefined) delete root.dataset.theme;
  else root.dataset.theme = theme;
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

/**
 * The button of one figure; stands in the same box as its figure.
 * @param {{what: string, title: string, lines: (string|null|undefined)[]}} o `what` ends the file's name
 */
export function svgButton(o) {
  const words = { title: o.title, lines: /** @type {string[]} */ (o.lines.filter(Boolean)) };
  return h("button", { class: "btn bare tofile", key: `svg ${o.what}`, "aria-label": `Save as SVG: ${o.title}`, onclick: (/** @type {Event} */ event) => {
    const figure = nearest(/** @type {Element} */ (event.currentTarget));
    try {
      const text = figure instanceof HTMLCanvasElement ? vectorOf(figure, words) : figure ? vector("drawing", standalone(figure), { width: 0, height: 0 }, words) : null;
      if (text) offerFile(fileName(currentRun()?.name ?? state.view?.inputs?.[0]?.name ?? "fixture", `${o.what}.svg`), text, "image/svg+xml");
    } catch (error) {
      report(error);
    }
  } }, "Save as SVG");
}
