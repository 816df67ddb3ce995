// @ts-check
// The Sieve card: two rulers, the share-out curve, the gates, what fell out.

import { h } from "../dom.js";
import { count, percentOf, plain } from "../format.js";
import { drawShareOut } from "../figure/small.js";
import { currentRun, state } from "../state.js";
import { CHANNEL, CHANNEL_UNIT, GATES, REASON } from "../text.js";
import { KNOB, hasKnob, knob, turn } from "../knobs.js";
import { choiceRow, numberRow, ruler, select, switchRow, table } from "./controls.js";

const CELL_STEPS = Array.from({ length: 49 }, (_, i) => Math.round(8 * 2 ** (i / 12)));
const LEAST_STEPS = Array.from({ length: 25 }, (_, i) => i);

export function sieveCard() {
  const run = currentRun();
  const out = (run?.rows.stages ?? []).find((/** @type {any} */ stage) => stage.stage === "sieve")?.fell ?? 0;
  const off = hasKnob(KNOB.sieveOn) && knob(KNOB.sieveOn) === false;
  return {
    aside: run ? `${count(out)} out` : "",
    sub: off ? "off" : `${knob(KNOB.cells) === null ? "cells found" : `${run?.sieve?.cells ?? knob(KNOB.cells)} cells per channel`}, least rows ${knob(KNOB.leastRows, run?.sieve?.least_rows)}`,
    inside,
  };
}

function inside() {
  const run = currentRun();
  const sieve = run?.sieve;
  const settled = run?.settled_points?.recognised;
  const least = knob(KNOB.leastRows) ?? sieve?.least_rows ?? 3;
  const gates = knob(KNOB.gates, {}) ?? {};
  return [
    settled ? h("p", { class: "said" }, "This is a table of settled points: each row stands for itself, so the time gates and the sieve are off.") : null,
    ruler({ name: "cells", label: "Cells per channel", value: knob(KNOB.cells, null), otherwise: 45, steps: CELL_STEPS, unit: "cells", marks: [8, 16, 32, 64, 128], most: 512, least: 2, set: (value) => turn(KNOB.cells, value, "sieve") }),
    hasKnob(KNOB.cells) && knob(KNOB.cells) === null ? h("p", { class: "note" }, "Found from noise and occupancy until you move it.") : hasKnob(KNOB.cells) ? h("button", { class: "btn", onclick: () => turn(KNOB.cells, null, "sieve") }, "Let it be found") : null,
    ruler({ name: "least", label: "Least rows in a cell", value: least, steps: LEAST_STEPS, unit: "rows", marks: [0, 4, 8, 12, 16, 20, 24], most: 1000, least: 0, set: (value) => turn(KNOB.leastRows, value, "sieve") }),
    sieve?.share_out?.length ? [
      h("p", { class: "note" }, "Rows out / %, by least rows"),
      h("div", { class: state.stale ? "small share stale" : "small share" }, h("canvas", { role: "img", "aria-label": shareWords(sieve), draw: (/** @type {HTMLCanvasElement} */ canvas) => drawShareOut(canvas, sieve, least) })),
      h("p", { class: "note" }, shareWords(sieve)),
    ] : null,
    h("hr", null),
    hasKnob(KNOB.sieveOn) && typeof knob(KNOB.sieveOn) === "boolean" ? switchRow({ label: "Sieve", value: knob(KNOB.sieveOn), set: (value) => turn(KNOB.sieveOn, value, "sieve") }) : null,
    h("details", { key: "gates" }, h("summary", null, "Gates before the sieve"),
      GATES.filter(([code]) => code in gates).map(([code, words]) => typeof gates[code] === "boolean"
        ? switchRow({ label: words, value: gates[code], set: (value) => turn(`${KNOB.gates}.${code}`, value, "sieve") })
        : null),
      hasKnob(KNOB.settledPoints) && typeof knob(KNOB.settledPoints) === "string" ? choiceRow({ name: "settled", label: "Settled points", value: knob(KNOB.settledPoints), options: [["auto", "found"], ["yes", "yes"], ["no", "no"]], set: (value) => turn(KNOB.settledPoints, value, "sieve") }) : null,
      hasKnob(KNOB.vote) ? h("div", { class: "group" }, h("h4", null, "A row read by few is saved"), select({ name: "vote", label: "What saves a row that few others read like", value: knob(KNOB.vote), options: [["off", "by nothing"], ["smooth", "where it continues its neighbours"], ["revisited", "where two other passes repeat it"]], set: (value) => turn(KNOB.vote, value, "sieve") })) : null,
      hasKnob(KNOB.settle) ? numberRow({ name: "settle", label: "Settling time after a start", unit: "s", value: knob(KNOB.settle), least: 0, set: (/** @type {number|null} */ value) => turn(KNOB.settle, value ?? 0, "sieve") }) : null,
      hasKnob(KNOB.supplyLimit) ? numberRow({ name: "limit", label: "Supply’s current limit", unit: "A", value: knob(KNOB.supplyLimit), least: 0, empty: true, place: "none", set: (/** @type {number|null} */ value) => turn(KNOB.supplyLimit, value, "sieve") }) : null),
    h("details", { key: "fell" }, h("summary", null, "What fell out, by reason"),
      table(["reason", "first", "any"], (run?.rows.by_reason ?? []).filter((/** @type {any} */ one) => one.any_reason > 0).map((/** @type {any} */ one) => [
        h("span", { title: REASON[one.code]?.[1] }, REASON[one.code]?.[1] ?? one.code, one.action === "label" ? h("span", { class: "quiet" }, " Kept, labelled.") : null), count(one.first_reason), count(one.any_reason)]), "", "Rows by reason")),
    sieve ? h("details", { key: "know" }, h("summary", null, "How do we know?"),
      h("p", { class: "note" }, `A row is out when fewer than the least rows read like it in all ${sieve.channels?.length ?? ""} channels at once, within one cell. ${count(sieve.occupied)} cells are occupied; an empty one costs nothing. The sieve alone cannot see a step that repeats: the step gate does.`),
      table(["channel", "cell width"], Object.entries(sieve.cell_width ?? {}).map(([channel, width]) => [CHANNEL[channel] ?? channel, plain(/** @type {number} */ (width), CHANNEL_UNIT[channel] ?? "", 3)]), "facts", "Cell widths")) : null,
  ];
}

/** @param {any} sieve */
function shareWords(sieve) {
  const plateau = sieve.plateau;
  const now = sieve.share_out.find((/** @type {[number, number]} */ [least]) => least === sieve.least_rows);
  const share = now ? `${percentOf(now[1])} of rows out here. ` : "";
  return plateau ? `${share}Flat from ${plateau[0]} to ${plateau[1]}: a good place to stand.` : `${share}No flat part: the sieve may be taking out real rows.`;
}
