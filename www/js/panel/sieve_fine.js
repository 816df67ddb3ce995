// @ts-check
// The sieve's finer controls: two rulers, each channel's cell width, the share-out curve.

import { h } from "../dom.js";
import { fieldText, fixed, percentOf, plain } from "../format.js";
import { drawShareOut } from "../figure/small.js";
import { KNOB, hasKnob, knob } from "../knobs.js";
import { changeSettings, currentRun, state } from "../state.js";
import { CHANNEL, CHANNEL_UNIT } from "../text.js";
import { numberField, ruler, wrong } from "./controls.js";
import { svgButton } from "./vector.js";

const CELL_STEPS = Array.from({ length: 49 }, (_, i) => Math.round(8 * 2 ** (i / 12)));
const LEAST_STEPS = Array.from({ length: 25 }, (_, i) => i);

/** Whether the sieve stands where it stands by itself. */
export function isAutomatic() {
  const sieve = state.settings?.sieve ?? {};
  const free = sieve.cells === null && !Object.keys(sieve.widths ?? {}).length && !Object.keys(sieve.channel_cells ?? {}).length;
  return free && (sieve.strictness ? false : sieve.strictness === 0 || sieve.least_rows === 3);
}

/** Back to what is found from the rows. */
export function resetSieve() {
  changeSettings("sieve reset", (settings) => {
    Object.assign(settings.sieve, { cells: null, widths: {}, least_rows: 3 });
    if ("strictness" in settings.sieve) settings.sieve.strictness = null;
    if ("channel_cells" in settings.sieve) settings.sieve.channel_cells = {};
  }, "sieve");
}

/** Hands over from the one plain control: the values in use become the settings. @param {any} sieve settings */
function takeOver(sieve) {
  if (sieve.strictness === null || sieve.strictness === undefined) return;
  const used = currentRun()?.sieve;
  sieve.least_rows = used?.least_rows ?? sieve.least_rows;
  if (sieve.strictness !== 0 && used?.cells_in_use) sieve.channel_cells = { ...used.cells_in_use };
  sieve.strictness = null;
}

/** @param {number} cells */
function setCells(cells) {
  changeSettings(KNOB.cells, (settings) => {
    takeOver(settings.sieve);
    settings.sieve.cells = cells;
    if ("channel_cells" in settings.sieve) settings.sieve.channel_cells = {};
  }, "sieve");
}

/** @param {number} least */
function setLeast(least) {
  changeSettings(KNOB.leastRows, (settings) => {
    takeOver(settings.sieve);
    settings.sieve.least_rows = least;
  }, "sieve");
}

/** One channel's cells, by number or by width; neither: found. @param {string} channel @param {number|null} cells @param {number|null} width */
function setChannel(channel, cells, width) {
  changeSettings(`cells of ${channel}`, (settings) => {
    takeOver(settings.sieve);
    const sieve = settings.sieve;
    sieve.widths ??= {};
    delete sieve.widths[channel];
    if (sieve.channel_cells) delete sieve.channel_cells[channel];
    if (cells !== null) sieve.channel_cells = { ...sieve.channel_cells, [channel]: cells };
    if (width !== null) sieve.widths[channel] = width;
  }, "sieve");
}

/** @param {any} run */
export function fineControls(run) {
  const sieve = run?.sieve;
  const least = sieve?.least_rows ?? knob(KNOB.leastRows, 3);
  return [
    ruler({ name: "cells", label: "Cells per channel", value: knob(KNOB.cells, null), otherwise: 45, steps: CELL_STEPS, unit: "cells", marks: [8, 16, 32, 64, 128], most: 512, least: 2, set: setCells }),
    ruler({ name: "least", label: "Least rows in a cell", value: plainOff() ? knob(KNOB.leastRows, least) : least, steps: LEAST_STEPS, unit: "rows", marks: [0, 4, 8, 12, 16, 20, 24], most: 1000, least: 0, set: setLeast }),
    channelWidths(sieve),
  ];
}

/** Whether the two rulers decide. */
function plainOff() {
  return knob("sieve.strictness", null) === null;
}

/** Each channel's cells, in number and in its unit. @param {any} sieve */
function channelWidths(sieve) {
  const widths = Object.entries(sieve?.cell_width ?? {});
  if (!widths.length) return null;
  const byNumber = hasKnob("sieve.channel_cells");
  const by = (/** @type {string} */ part, /** @type {string} */ channel) => knob(`sieve.${part}`, {})?.[channel] ?? null;
  return h("div", { class: "group" }, h("h4", null, "One channel alone"),
    h("table", { class: "widths" }, h("caption", { class: "away" }, "Cells of each channel"),
      h("thead", null, h("tr", null, h("th", { scope: "col" }, "channel"), byNumber ? h("th", { scope: "col" }, "cells") : null, h("th", { scope: "col" }, "width of a cell"), h("th", null, h("span", { class: "away" }, "unit")))),
      h("tbody", null, widths.map(([channel, width]) => {
        const name = CHANNEL[channel] ?? channel;
        const unit = CHANNEL_UNIT[channel] ?? "";
        const inUse = sieve.cells_in_use?.[channel];
        return h("tr", { key: `width ${channel}` }, h("td", null, name),
          byNumber ? h("td", null, numberField({ name: `cells of ${channel}`, label: `Cells along the range of ${name}`, value: by("channel_cells", channel), least: 1, most: 100000, empty: true, place: Number.isFinite(inUse) ? fixed(inUse, inUse < 10 ? 1 : 0) : "found", set: (value) => setChannel(channel, value, null) })) : null,
          h("td", null, numberField({ name: `width of ${channel}`, label: `Width of a cell of ${name} in ${unit || "its unit"}`, value: by("widths", channel), least: 1e-12, empty: true, place: fieldText(Number(/** @type {number} */ (width).toPrecision(3))), set: (value) => setChannel(channel, null, value) })),
          h("td", { class: "quiet" }, unit));
      }))),
    h("p", { class: "note" }, "Empty is found from noise, resolution and occupancy; the grey number is in use. A cell is never narrower than six noises and four steps of the reading, unless its width is given."));
}

/** The share of rows out against least rows, with its flat part. @param {any} sieve @param {number} least */
export function shareOut(sieve, least) {
  if (!sieve?.share_out?.length) return null;
  return h("div", { class: "group", key: "share-out" },
    h("p", { class: "note" }, "Rows out / %, by least rows"),
    h("div", { class: state.stale && !state.ahead ? "small share stale" : "small share" }, h("canvas", { role: "img", "aria-label": shareWords(sieve), draw: (/** @type {HTMLCanvasElement} */ canvas) => drawShareOut(canvas, sieve, least) })),
    svgButton({ what: "share-out", title: "Rows out against least rows", lines: [`Rows out in % of all rows. ${shareWords(sieve)} Readings as logged, at the sense nodes and shunts.`] }),
    sieve.plateau ? h("p", { class: "note" }, shareWords(sieve)) : wrong(shareWords(sieve), "Wider cells or fewer least rows keep more; the Trust view shows which rows go."));
}

/** @param {any} sieve */
function shareWords(sieve) {
  const plateau = sieve.plateau;
  const now = sieve.share_out.find((/** @type {[number, number]} */ [least]) => least === sieve.least_rows);
  const share = now ? `${percentOf(now[1])} of rows out here. ` : "";
  return plateau ? `${share}Flat from ${plateau[0]} to ${plateau[1]} least rows, on the wash: a good place to stand.` : `${share}There is no flat part: the sieve may be taking out real rows.`;
}

/** Widths in use, as facts. @param {any} sieve */
export function widthFacts(sieve) {
  return Object.entries(sieve?.cell_width ?? {}).map(([channel, width]) => [CHANNEL[channel] ?? channel, plain(/** @type {number} */ (width), CHANNEL_UNIT[channel] ?? "", 3)]);
}
