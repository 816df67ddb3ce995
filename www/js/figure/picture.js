// @ts-check
// The figure as a PNG: layers put together, title above, caption burned in below.

import { colourOf, offerFile } from "../dom.js";

/** @param {CanvasRenderingContext2D} pen @param {string} text @param {number} width */
function broken(pen, text, width) {
  const lines = [];
  let line = "";
  for (const word of text.split(" ")) {
    const longer = line ? `${line} ${word}` : word;
    if (line && pen.measureText(longer).width > width) {
      lines.push(line);
      line = word;
    } else line = longer;
  }
  if (line) lines.push(line);
  return lines;
}

/** @param {{name: string, title: string, canvases: HTMLCanvasElement[], frame: any, lines: string[]}} what */
export function pictureOf(what) {
  const base = what.canvases[1].getBoundingClientRect();
  const ratio = Math.max(2, window.devicePixelRatio || 1);
  const measure = /** @type {CanvasRenderingContext2D} */ (document.createElement("canvas").getContext("2d"));
  const sans = getComputedStyle(document.body).fontFamily;
  const serif = getComputedStyle(document.documentElement).getPropertyValue("--serif");
  measure.font = `12px ${sans}`;
  const lines = what.lines.flatMap((line) => broken(measure, line, base.width - 40));
  const [above, below] = [40, 20 + lines.length * 17];
  const sheet = document.createElement("canvas");
  sheet.width = Math.round(base.width * ratio);
  sheet.height = Math.round((base.height + above + below) * ratio);
  const pen = /** @type {CanvasRenderingContext2D} */ (sheet.getContext("2d"));
  pen.scale(ratio, ratio);
  pen.fillStyle = colourOf("plate");
  pen.fillRect(0, 0, base.width, base.height + above + below);
  pen.fillStyle = colourOf("ink");
  pen.font = `17px ${serif}`;
  pen.fillText(what.title, 20, 26);
  for (const canvas of what.canvases) {
    const box = canvas.getBoundingClientRect();
    if (canvas.width && canvas.height) pen.drawImage(canvas, box.left - base.left, box.top - base.top + above, box.width, box.height);
  }
  pen.font = `12px ${sans}`;
  pen.fillStyle = colourOf("ink2");
  lines.forEach((line, i) => pen.fillText(line, 20, base.height + above + 18 + i * 17));
  sheet.toBlob((blob) => {
    if (blob) offerFile(`${what.name.replace(/[^\p{L}\p{N}._-]+/gu, "-").slice(0, 60)}-map.png`, blob, "image/png");
  }, "image/png");
}
