// @ts-check
// The Counts view: how many rows read alike, by channel and by pair; thin cells, rows out, choosing rows.

import { h } from "../dom.js";
import { count, counted, fixed } from "../format.js";
import { chooser } from "../figure/chooser.js";
import { drawTally } from "../figure/tally.js";
import { choose } from "../hand.js";
import { ask } from "../link.js";
import { changed, currentRun, overtaken, report, state } from "../state.js";
import { CHANNEL, CHANNEL_UNIT } from "../text.js";
import { choice, select } from "./controls.js";
import { pickedBar } from "./picked.js";
import { svgButton } from "./vector.js";

/** The pair, and which bins: found by what the log is until chosen. @type {{x: string, y: string, cells: string|null}} */
const shown = { x: "", y: "", cells: null };

/** The sieve’s cells, or even bins for a table of settled points, which no cells are found for. */
function binsNow() {
  return shown.cells ?? (currentRun()?.settled_points?.recognised ? "even" : "cells");
}
/** What was counted, by what was asked. @type {Map<string, any>} */
let counted_ = new Map();
let countedFor = "";
/** Where each figure lies. @type {Map<string, any>} */
const planes = new Map();
/** What stands under the cursor of a figure. */
let under = "";

/** @param {string} name */
function nameOf(name) {
  return CHANNEL[name] ?? name;
}

/** @param {any} axis */
function title(axis) {
  const unit = unitOf(axis);
  return `${nameOf(axis.name)}${unit ? ` / ${unit}` : ""}`;
}

/** @param {any} axis */
function unitOf(axis) {
  return axis.unit ?? CHANNEL_UNIT[axis.name] ?? "";
}

function channels() {
  return currentRun()?.sieve?.channels ?? [];
}

/** The chosen pair, made good where a channel is not in this run. */
function pairNow() {
  const all = channels();
  if (!all.includes(shown.x)) shown.x = all[0] ?? "";
  if (!all.includes(shown.y) || shown.y === shown.x) shown.y = all.find((/** @type {string} */ name) => name === "i_out" && name !== shown.x) ?? all.find((/** @type {string} */ name) => name !== shown.x) ?? "";
  return shown;
}

export function countsTools() {
  const all = channels();
  const { x, y } = pairNow();
  if (!all.length) return null;
  const options = all.map((/** @type {string} */ name) => /** @type {[string, string]} */ ([name, nameOf(name)]));
  return [
    h("span", { class: "set" }, select({ name: "counts x", label: "Channel across", value: x, options, set: (value) => { shown.x = value; changed(); } }), h("span", { class: "quiet" }, "against"), select({ name: "counts y", label: "Channel up", value: y, options: options.filter(([name]) => name !== x), set: (value) => { shown.y = value; changed(); } })),
    choice({ name: "counts bins", label: "Bins", value: binsNow(), options: [["cells", "The sieve’s cells"], ["even", "Even bins"]], set: (value) => { shown.cells = value; changed(); } }),
  ];
}

/** Asks once for what is shown now; answers come one after another. */
async function ensure() {
  const { x, y } = pairNow();
  const cells = binsNow();
  if (!x || state.early || state.core !== "ready") return;
  const wanted = `${state.viewNumber} ${state.run} ${cells}`;
  if (countedFor !== wanted) {
    countedFor = wanted;
    // Old counts stay in sight until the new ones are there.
    counted_ = new Map([...counted_].map(([key, one]) => [key, { ...one, old: true }]));
  }
  const tasks = [[x, y], ...channels().map((/** @type {string} */ name) => [name, ""])];
  for (const [across, up] of tasks) {
    const key = `${across} ${up}`;
    const had = counted_.get(key);
    if (had && !had.old) continue;
    counted_.set(key, { ...had, old: false, asked: true });
    try {
      const bins = await ask("bins", { run: state.run, x: across, ...(up ? { y: up } : {}), cells: cells === "cells" });
      if (countedFor !== wanted) return;
      counted_.set(key, { bins, old: false });
      changed();
    } catch (error) {
      if (!overtaken(error)) report(error, "sieve");
      return;
    }
  }
}

/** @param {any} axis @param {number} value */
function binAt(axis, value) {
  return Math.min(axis.bins - 1, Math.max(0, Math.floor((value - axis.from) / axis.width)));
}

/** @param {any} axis @param {number} at */
function binWords(axis, at) {
  const decimals = Math.max(0, Math.min(6, 1 - Math.floor(Math.log10(axis.width))));
  return `${nameOf(axis.name)} ${fixed(axis.from + at * axis.width, decimals)} to ${fixed(axis.from + (at + 1) * axis.width, decimals)} ${unitOf(axis)}`;
}

/** What a bin holds. @param {any} bins @param {number} x @param {number|null} y */
function readBin(bins, x, y) {
  const column = binAt(bins.x, x);
  const line = bins.y && y !== null ? binAt(bins.y, y) : 0;
  const k = line * bins.columns + column;
  const words = [binWords(bins.x, column), bins.y ? binWords(bins.y, line) : ""].filter(Boolean).join(", ");
  return `${words}: ${counted(bins.kept[k], "row")} kept, ${count(bins.out[k])} out${bins.thin[k] ? "; thin" : ""}.`;
}

/** One figure with its layer for choosing. @param {string} key @param {any} bins @param {string} kind */
function figure(key, bins, kind) {
  const name = bins.y ? `${nameOf(bins.x.name)} against ${nameOf(bins.y.name)}` : nameOf(bins.x.name);
  const least = currentRun()?.sieve?.least_rows ?? 0;
  const words = `${name}: ${counted(bins.kept_rows, "row")} kept, ${count(bins.out_rows)} out; ${counted(bins.thin_bins, "thin bin")} with ${counted(bins.thin_rows, "row")}.`;
  return h("div", { class: `small ${kind}`, key: `figure ${key}` },
    h("canvas", { "aria-hidden": "true", draw: (/** @type {HTMLCanvasElement} */ canvas) => {
      const before = JSON.stringify(planes.get(key)?.frame);
      planes.set(key, drawTally(canvas, bins, { x: title(bins.x), y: bins.y ? title(bins.y) : "rows", least }));
      if (before !== JSON.stringify(planes.get(key)?.frame)) changed();
    } }),
    chooser({
      name: `counts ${key}`, label: words, plane: () => planes.get(key) ?? null,
      at: (x, y) => {
        const next = readBin(bins, x, y);
        if (next !== under) {
          under = next;
          changed();
        }
      },
      choose: (box) => choose({ channels: { [bins.x.name]: box.x, ...(bins.y && box.y ? { [bins.y.name]: box.y } : {}) } }, boxWords(bins, box)),
    }));
}

/** The figure as a file. @param {any} bins */
function toFile(bins) {
  const name = bins.y ? `${nameOf(bins.x.name)} against ${nameOf(bins.y.name)}` : nameOf(bins.x.name);
  return svgButton({ what: `counts-${[bins.x.name, bins.y?.name].filter(Boolean).join("-")}`, title: `Rows counted: ${name}`, lines: [`${currentRun()?.name ?? ""}: ${counted(bins.kept_rows, "row")} kept, ${count(bins.out_rows)} out. Readings at one instant, at the sense nodes and shunts, before any correction.`, `Bins of ${widthWords(bins.x)}${bins.y ? ` by ${widthWords(bins.y)}` : ""}. ${thinWords(bins)}`] });
}

/** @param {any} bins @param {any} box */
function boxWords(bins, box) {
  const side = (/** @type {any} */ axis, /** @type {[number, number]} */ range) => {
    const decimals = Math.max(0, Math.min(6, 1 - Math.floor(Math.log10(axis.width))));
    return `${nameOf(axis.name)} ${fixed(range[0], decimals)} to ${fixed(range[1], decimals)} ${unitOf(axis)}`;
  };
  return `${side(bins.x, box.x)}${bins.y && box.y ? `, ${side(bins.y, box.y)}` : ""}, as read.`;
}

/** @param {any} bins */
function thinWords(bins) {
  const least = currentRun()?.sieve?.least_rows ?? 0;
  return bins.thin_bins ? `Hollow: fewer than ${least} rows. ${counted(bins.thin_bins, "such bin")} with ${counted(bins.thin_rows, "row")}.` : `No bin holds fewer than ${least} rows.`;
}

/** @param {any} axis */
function widthWords(axis) {
  return `${Number(axis.width.toPrecision(3))} ${unitOf(axis)}`;
}

export function countsPanel() {
  ensure();
  const { x, y } = pairNow();
  const run = currentRun();
  if (!run || !x) return h("p", { class: "said" }, "No run with channels is open yet.");
  const pair = counted_.get(`${x} ${y}`)?.bins;
  const singles = channels().map((/** @type {string} */ name) => [name, counted_.get(`${name} `)?.bins]).filter((/** @type {any[]} */ entry) => entry[1]);
  return h("div", { class: state.stale && !state.ahead ? "sheets counts dim" : "sheets counts" },
    h("section", { class: "plate whole" },
      h("h2", null, `${nameOf(x)} against ${nameOf(y)}`, h("small", null, pair ? `bins of ${widthWords(pair.x)} by ${widthWords(pair.y)}` : "")),
      pair ? [
        h("p", { class: "note" }, `Readings at one instant, before any correction: what the sieve counts, here in two of its ${channels().length} channels. Stronger: more rows, ${count(pair.most)} at most. ${thinWords(pair)} Crossed: rows out, ${count(pair.out_rows)}.`),
        figure("pair", pair, "pairfigure"),
      ] : h("p", { class: "note" }, state.early ? "The logs are still being read." : "Counting."),
      h("div", { class: "figfoot" }, h("p", { class: "note under", role: "status" }, under || "Point at a bin, or move to the figure and use the arrow keys. Drag, or Enter twice, chooses rows."), pair ? toFile(pair) : null),
      pickedBar()),
    singles.map((/** @type {any[]} */ [name, bins]) => h("section", { class: "plate", key: `single ${name}` },
      h("h2", null, nameOf(name), h("small", null, `bins of ${widthWords(bins.x)}`)),
      figure(`single ${name}`, bins, "single"),
      h("div", { class: "figfoot" }, h("p", { class: "note" }, `${thinWords(bins)} Solid copper: rows out, ${count(bins.out_rows)}.`), toFile(bins)))));
}
