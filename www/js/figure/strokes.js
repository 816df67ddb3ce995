// @ts-check
// Boxes, lines and words, set on a canvas or as a drawing of its own: what is drawn with them exists once.

import { sv } from "../dom.js";

/** @typedef {[x: number, y: number, width: number, height: number]} Box in CSS pixels */
/** @typedef {[x1: number, y1: number, x2: number, y2: number]} Line in CSS pixels */
/**
 * @typedef {object} Strokes
 * @property {(list: Box[], colour: string) => void} boxes
 * @property {(list: Line[], colour: string) => void} lines one pixel wide
 * @property {(text: string, x: number, y: number, anchor: "start"|"middle"|"end", colour: string) => void} words 12 px, about the middle of their height
 */

const FONT = "'Segoe UI', 'Helvetica Neue', 'Liberation Sans', Arial, sans-serif";

/** @param {CanvasRenderingContext2D} pen @returns {Strokes} */
export function onCanvas(pen) {
  pen.font = `12px ${FONT}`;
  pen.textBaseline = "middle";
  return {
    boxes(list, colour) {
      pen.fillStyle = colour;
      for (const [x, y, width, height] of list) pen.fillRect(x, y, width, height);
    },
    lines(list, colour) {
      pen.strokeStyle = colour;
      pen.lineWidth = 1;
      pen.beginPath();
      for (const [x1, y1, x2, y2] of list) {
        pen.moveTo(x1, y1);
        pen.lineTo(x2, y2);
      }
      pen.stroke();
    },
    words(text, x, y, anchor, colour) {
      pen.fillStyle = colour;
      pen.textAlign = anchor === "middle" ? "center" : anchor;
      pen.fillText(text, x, y);
    },
  };
}

/** @param {number} value */
function short(value) {
  return Number(value.toFixed(2));
}

/** A drawing as text; boxes and lines of one colour are one path. @param {{width: number, height: number}} size in CSS pixels @param {(strokes: Strokes) => void} work */
export function asSvg(size, work) {
  /** @type {SVGElement[]} */
  const parts = [];
  work({
    boxes(list, fill) {
      if (list.length) parts.push(sv("path", { fill, d: list.map(([x, y, width, height]) => `M${short(x)} ${short(y)}h${short(width)}v${short(height)}h${short(-width)}z`).join("") }));
    },
    lines(list, stroke) {
      if (list.length) parts.push(sv("path", { fill: "none", stroke, "stroke-width": 1, d: list.map(([x1, y1, x2, y2]) => `M${short(x1)} ${short(y1)}L${short(x2)} ${short(y2)}`).join("") }));
    },
    words(text, x, y, anchor, fill) {
      parts.push(sv("text", { x: short(x), y: short(y), dy: 4, "text-anchor": anchor, "font-family": FONT, "font-size": 12, fill }, text));
    },
  });
  return new XMLSerializer().serializeToString(sv("svg", { ...size, viewBox: `0 0 ${size.width} ${size.height}` }, parts));
}
