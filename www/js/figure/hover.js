// @ts-check
// The mark at the row being read, on a layer of its own.

import { colourOf } from "../dom.js";
import { along, fitCanvas } from "./view.js";

/** @param {HTMLCanvasElement} canvas @param {{frame: any, x: any, y: any}} drawn @param {any} reading */
export function drawHover(canvas, drawn, reading) {
  const { context: pen } = fitCanvas(canvas);
  if (!reading || !Number.isFinite(reading.v_in) || !(reading.i_out > 0 || !drawn.y.log)) return;
  const { frame } = drawn;
  const [fx, fy] = [along(drawn.x, reading.v_in), along(drawn.y, reading.i_out)];
  if (!(fx >= 0 && fx <= 1 && fy >= 0 && fy <= 1)) return;
  const x = frame.left + fx * frame.width;
  const y = frame.top + (1 - fy) * frame.height;
  const [ink, plate] = [colourOf("ink"), colourOf("plate")];
  pen.strokeStyle = ink;
  pen.lineWidth = 1.2;
  pen.setLineDash([2, 3]);
  pen.beginPath();
  pen.moveTo(frame.left, y);
  pen.lineTo(x - 8, y);
  pen.moveTo(x, frame.top + frame.height);
  pen.lineTo(x, y + 8);
  pen.stroke();
  pen.setLineDash([]);
  for (const [colour, width] of /** @type {[string, number][]} */ ([[plate, 4.5], [ink, 1.8]])) {
    pen.strokeStyle = colour;
    pen.lineWidth = width;
    pen.beginPath();
    pen.arc(x, y, 7, 0, 7);
    pen.stroke();
  }
  pen.fillStyle = ink;
  pen.beginPath();
  pen.arc(x, y, 2.2, 0, 7);
  pen.fill();
}
