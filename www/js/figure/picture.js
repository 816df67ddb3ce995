// @ts-check
// The figure as a PNG in the colours of paper: title above, caption burned in below.

import { offerFile } from "../dom.js";

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

/** A file's name from a run's and what it shows. @param {string} name @param {string} what */
export function fileName(name, what) {
  return `${name.replace(/[^\p{L}\p{N}._-]+/gu, "-").slice(0, 60)}-${what}`;
}

/** @param {{name: string, title: string, figure: {canvas: HTMLCanvasElement, width: number, height: number}, lines: string[]}} what */
export function pictureOf(what) {
  const { canvas, width, height } = what.figure;
  const ratio = canvas.width / width;
  const measure = /** @type {CanvasRenderingContext2D} */ (document.createElement("canvas").getContext("2d"));
  const sans = getComputedStyle(document.body).fontFamily;
  const serif = getComputedStyle(document.documentElement).getPropertyValue("--serif");
  measure.font = `12px ${sans}`;
  const lines = what.lines.flatMap((line) => broken(measure, line, width - 40));
  const [above, below] = [40, 20 + lines.length * 17];
  const sheet = document.createElement("canvas");
  sheet.width = Math.round(width * ratio);
  sheet.height = Math.round((height + above + below) * ratio);
  const pen = /** @type {CanvasRenderingContext2D} */ (sheet.getContext("2d"));
  pen.scale(ratio, ratio);
  pen.fillStyle = "#fff";
  pen.fillRect(0, 0, width, height + above + below);
  pen.fillStyle = "#1e2228";
  pen.font = `17px ${serif}`;
  pen.fillText(what.title, 20, 26);
  pen.drawImage(canvas, 0, above, width, height);
  pen.font = `12px ${sans}`;
  pen.fillStyle = "#54565a";
  lines.forEach((line, i) => pen.fillText(line, 20, height + above + 18 + i * 17));
  sheet.toBlob((blob) => {
    if (blob) offerFile(fileName(what.name, "map.png"), blob, "image/png");
  }, "image/png");
}
