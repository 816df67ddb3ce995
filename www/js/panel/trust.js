// @ts-check
// The Trust view: what cleaning did to the answer, where and when rows went, the rows at the border.

import { h } from "../dom.js";
import { count, counted, fixed, percentOf, plain, quantity, sentence, span } from "../format.js";
import { cellAxes } from "../figure/boxes.js";
import { paint } from "../figure/paint.js";
import { drawTally } from "../figure/tally.js";
import { ask } from "../link.js";
import { isTimed } from "../run.js";
import { changed, currentRun, overtaken, report, set, state } from "../state.js";
import { CHANNEL, CHANNEL_UNIT, REASON, wordsOf } from "../text.js";
import { table, wrong } from "./controls.js";
import { handWords, pickedBar, rowActs } from "./picked.js";
import { byHand, choose } from "../hand.js";
import { fold } from "./picks.js";
import { planeCaption, planeLine } from "./plane.js";
import { svgButton } from "./vector.js";

/** @type {any} */
let found = null;
let foundFor = "";
let colour = "share";

async function ensure() {
  if (!currentRun() || state.early || state.core !== "ready") return;
  const wanted = `${state.viewNumber} ${state.run}`;
  if (foundFor === wanted) return;
  if (!foundFor.endsWith(` ${state.run}`)) found = null;
  foundFor = wanted;
  try {
    const answer = await ask("trust", { run: state.run });
    if (foundFor !== wanted) return;
    found = answer;
    changed();
  } catch (error) {
    if (!overtaken(error)) report(error, "sieve");
  }
}

export function trustPanel() {
  ensure();
  const run = currentRun();
  if (!run) return h("p", { class: "said" }, "No run is open yet.");
  const dim = state.stale && !state.ahead ? "sheets trust dim" : "sheets trust";
  if (!found) return h("div", { class: dim }, h("section", { class: "plate whole" }, h("h2", null, "What cleaning changed"), h("p", { class: "note" }, state.early ? "The logs are still being read." : "Working it out.")));
  return h("div", { class: dim },
    h("section", { class: "plate whole" }, h("h2", null, "What cleaning changed"), answer(run), warnings(run), handWords(byHand())),
    h("section", { class: "plate whole" }, h("h2", null, "Where rows went", h("small", null, "share out, and answer before and after, by cell of the map")), places()),
    h("section", { class: "plate whole" }, h("h2", null, "When rows went", h("small", null, `${count(found.time?.length ?? 0)} parts of the run, of equal time`)), times(run), pickedBar()),
    h("section", { class: "plate" }, h("h2", null, "The ten most extreme the sieve took"), rowList(found.rejects ?? [], "rejects", "The sieve took no row.")),
    h("section", { class: "plate" }, h("h2", null, "The ten closest that stay"), rowList(found.survivors ?? [], "survivors", "No row comes near the border.")));
}

/** The largest change, in a sentence. @param {any} run */
function answer(run) {
  const cells = found.cells ?? [];
  const cell = found.largest === null || found.largest === undefined ? null : cells[found.largest];
  const all = `${count(run.rows.removed_count)} of ${counted(run.rows.read, "row")} out, ${percentOf(run.rows.removed_share)}. `;
  if (!run.rows.kept) return h("p", { class: "said" }, all, "No row is left, so there is no answer to compare.");
  if (!cell) return h("p", { class: "said" }, all, run.rows.removed_count ? "No cell’s efficiency changed by more than its ±: cleaning changed the picture, not the answer." : "Nothing was taken out, so nothing changed.");
  return [
    h("p", { class: "said" }, all, `The largest change: ${quantity(cell.before, "%")} before, ${quantity(cell.after, "%")} after, ${pointsOf(cell.change)}, at ${place(cell)}, where ${count(cell.removed)} of ${counted(cell.rows, "row")} went.`),
    h("p", { class: "note" }, "Before: all rows that have a value; after: the rows that stay. ± is 95 % of scatter, in points; accuracy is common to both and does not change."),
  ];
}

/** @param {any} change a quantity or a number, as a fraction */
function pointsOf(change) {
  const q = change && typeof change === "object" ? change : { value: change ?? null, u: null };
  return quantity(q, "points");
}

/** @param {any} cell */
function place(cell) {
  return `${fixed(cell.v_in[0], 2)} to ${fixed(cell.v_in[1], 2)} V in, ${fixed(cell.i_out[0], 3)} to ${fixed(cell.i_out[1], 3)} A out`;
}

/** Findings about cleaning that warn, in the core's own words. */
const WARNINGS = ["rejects_clustered", "gates_disagree", "sieve_no_plateau"];

/** @param {any} run */
function warnings(run) {
  return (run.findings ?? []).map((/** @type {any} */ finding, /** @type {number} */ i) => [finding, i]).filter((/** @type {any[]} */ [finding]) => WARNINGS.includes(finding.code)).map((/** @type {any[]} */ [finding, i]) => h("div", { class: "group", key: `warning ${i}` },
    wrong(sentence(finding.text)),
    finding.rows?.length ? h("div", { class: "set" }, h("button", { class: "btn", onclick: () => show(finding, i) }, finding.rows.length > 1 ? "Show these rows on the map" : "Choose these rows")) : null));
}

/** Goes to the map with the rows of a finding: a stretch is chosen, scattered rows are lit. @param {any} finding @param {number} i */
function show(finding, i) {
  if (finding.rows.length > 1) set({ tab: "map", finding: i });
  else lookAt(finding.rows[0][0], finding.rows[0][1]);
}

/** Chooses a stretch of rows and goes to the map. @param {number} first @param {number} last */
async function lookAt(first, last) {
  set({ tab: "map" });
  await choose({ rows: [first, last] }, `Rows ${count(first)} to ${count(last)}.`);
}

/** @param {HTMLCanvasElement} canvas */
function drawPlaces(canvas) {
  const cells = (found.cells ?? []).filter((/** @type {any} */ cell) => colour === "share" ? cell.rows > 0 : changeOf(cell) !== null);
  if (!cells.length) return;
  const sides = cells.map((/** @type {any} */ cell) => ({ x: cell.v_in, y: cell.i_out }));
  const value = (/** @type {any} */ cell) => (colour === "share" ? cell.share : changeOf(cell));
  const most = Math.max(...cells.map((/** @type {any} */ cell) => Math.abs(value(cell))), 1e-9);
  paint("cells", canvas, {
    ...cellAxes(sides),
    bar: { ramp: colour === "share" ? "share" : "difference", range: [colour === "share" ? 0 : -most, most], title: colour === "share" ? "rows out / %" : "after less before / points", factor: 100 },
    chosen: found.largest === null || found.largest === undefined ? null : cells.indexOf(found.cells[found.largest]),
    cells: cells.map((/** @type {any} */ cell, /** @type {number} */ i) => ({ ...sides[i], value: value(cell), text: value(cell) === 0 ? "0" : fixed(value(cell) * 100, most > 0.1 ? 0 : most > 0.01 ? 1 : 2), hatch: false })),
  });
}

/** @param {any} cell @returns {number|null} */
function changeOf(cell) {
  const change = cell.change && typeof cell.change === "object" ? cell.change.value : cell.change;
  return typeof change === "number" && Number.isFinite(change) ? change : null;
}

function places() {
  const cells = found.cells ?? [];
  if (!cells.length) return h("p", { class: "note" }, "The map has no cells yet.");
  const touched = cells.filter((/** @type {any} */ cell) => cell.removed > 0);
  if (!touched.length) return h("p", { class: "note" }, `None of the map’s ${counted(cells.length, "cell")} lost a row.`);
  return [
    h("div", { class: "set" }, ["share", "change"].map((one) => h("button", { class: "btn", "aria-pressed": String(colour === one), onclick: () => { colour = one; changed(); } }, one === "share" ? "Share out" : "Change of the answer"))),
    h("div", null, h("div", { class: "small tall" }, h("canvas", { role: "img", "aria-label": "Cells of the map; the table below has the values.", draw: drawPlaces })),
      h("div", { class: "figfoot" }, svgButton({ what: "where-rows-went", title: colour === "share" ? "Share of rows out by cell" : "What cleaning changed by cell", lines: [`${currentRun()?.name ?? ""}: input voltage in V, output current in A, ${planeLine()}: ${planeCaption()}.`, colour === "share" ? "Colour and numbers: rows out, % of the cell’s rows." : "Colour and numbers: efficiency after cleaning less before, in points."] }))),
    found.largest !== null && found.largest !== undefined ? h("p", { class: "note" }, "Outlined: the largest change that is more than its ±.") : null,
    fold({ id: "trust-cells", open: false, title: `The same as a table: ${counted(touched.length, "cell")} that lost rows`, inside: () => h("div", { class: "scroll", tabindex: "0", role: "group", "aria-label": "Cells that lost rows" },
      table(["input / V", "output / A", "rows", "out", "share out", "before / %, ± points", "after / %, ± points", "change"], touched.map((/** @type {any} */ cell) => [
        `${fixed(cell.v_in[0], 2)}–${fixed(cell.v_in[1], 2)}`, `${fixed(cell.i_out[0], 3)}–${fixed(cell.i_out[1], 3)}`, count(cell.rows), count(cell.removed), percentOf(cell.share),
        quantity(cell.before, "%").replace(" %", ""), quantity(cell.after, "%").replace(" %", ""), changeOf(cell) === null ? "–" : pointsOf(cell.change),
      ]), "", "Cells that lost rows")) }),
  ];
}

/** The parts of the run as counts. */
function timeBins() {
  const parts = (found.time ?? []).filter((/** @type {any} */ part) => Number.isFinite(part.from) && Number.isFinite(part.to));
  if (!parts.length) return null;
  const width = parts[0].to - parts[0].from;
  const kept = parts.map((/** @type {any} */ part) => part.rows - part.removed);
  const out = parts.map((/** @type {any} */ part) => part.removed);
  return { parts, x: { from: parts[0].from, to: parts[parts.length - 1].to, width }, columns: parts.length, kept, out, thin: parts.map(() => false), most: Math.max(...parts.map((/** @type {any} */ part) => part.rows), 1) };
}

/** @param {any} run */
function times(run) {
  const bins = timeBins();
  if (!bins || !(bins.x.to > bins.x.from)) return h("p", { class: "note" }, "The log has no time.");
  const worst = bins.parts.reduce((/** @type {any} */ a, /** @type {any} */ b) => (b.removed > a.removed ? b : a));
  return [
    h("div", { class: "small mid" }, h("canvas", { role: "img", "aria-label": `Rows kept and out by time. Most out: ${count(worst.removed)} from ${span(worst.from, true)} to ${span(worst.to, true)}.`, draw: (/** @type {HTMLCanvasElement} */ canvas) => drawTally(canvas, bins, { x: isTimed(run) ? "time / s" : "row", y: "rows", least: 0 }) })),
    h("div", { class: "figfoot" }, svgButton({ what: "when-rows-went", title: "Rows kept and out by time", lines: [`${currentRun()?.name ?? ""}: ${count(bins.columns)} parts of equal time; copper: rows out. Readings as logged, at the sense nodes and shunts.`] })),
    h("p", { class: "note" }, worst.removed ? [`Copper, on top: rows out. Most in one part: ${count(worst.removed)} of ${count(worst.rows)}, from ${span(worst.from, true)} to ${span(worst.to, true)}. `, h("button", { class: "btn bare", onclick: () => choose({ time: [worst.from, worst.to] }, `From ${span(worst.from, true)} to ${span(worst.to, true)}.`) }, "Choose that part")] : "No row is out."),
  ];
}

/** @param {any[]} rows @param {string} name @param {string} none */
function rowList(rows, name, none) {
  if (!rows.length) return h("p", { class: "note" }, none);
  return h("div", { class: "rowlist" }, rows.map((row) => fold({
    id: `${name} ${row.row}`, open: false, kind: "fold rowfold",
    title: h("span", null, h("b", null, `Row ${count(row.row)}`), `, ${span(row.time, true)}`),
    aside: [Number.isFinite(row.count) ? `${fixed(row.count, row.count % 1 ? 2 : 0)} read alike` : "", row.channel ? `${CHANNEL[row.channel] ?? row.channel} stands out${Number.isFinite(row.noises) ? ` by ${fixed(row.noises, row.noises < 10 ? 1 : 0)} noises` : ""}` : ""].filter(Boolean).join("; "),
    inside: () => neighbours(row),
  })));
}

/** A row among its neighbours in time. @param {any} row */
function neighbours(row) {
  const channels = Object.keys(row.around?.[0]?.values ?? {});
  const value = (/** @type {any} */ one, /** @type {string} */ channel) => {
    const x = one.values?.[channel];
    const text = x === null || x === undefined || !Number.isFinite(x) ? "–" : fixed(x, 4);
    return channel === row.channel && one.row === row.row ? h("b", { class: "stands" }, text) : text;
  };
  return [
    row.reasons?.length ? h("p", { class: "note" }, row.reasons.map((/** @type {string} */ code) => sentence(REASON[code]?.[1] ?? wordsOf(code))).join(" ")) : null,
    Number.isFinite(row.falls_at) ? h("p", { class: "note" }, `It goes at ${plain(row.falls_at, "", 3)} least rows and more.`) : null,
    h("div", { class: "scroll", tabindex: "0", role: "group", "aria-label": `Row ${row.row} and its neighbours` },
      table(["row", "line", "time / s", ...channels.map((channel) => `${CHANNEL[channel] ?? channel}${CHANNEL_UNIT[channel] ? ` / ${CHANNEL_UNIT[channel]}` : ""}`), ""], (row.around ?? []).map((/** @type {any} */ one) => [
        one.row === row.row ? h("b", null, `› ${count(one.row)}`) : count(one.row), one.line === null || one.line === undefined ? "–" : count(one.line), Number.isFinite(one.time) ? fixed(one.time, 3) : "–", ...channels.map((channel) => value(one, channel)), one.kept ? "" : h("span", { class: "out" }, "× out"),
      ]), "", `Row ${row.row} and its neighbours`)),
    h("div", { class: "set" }, rowActs(row.row, row.reasons?.length === 0 || !row.reasons?.some((/** @type {string} */ code) => code === "rare")), h("button", { class: "btn bare", onclick: () => lookAt(row.row, row.row) }, "Show on the map")),
  ];
}
