// @ts-check
// The Sieve card: one plain control in front, the finer ones and the gates behind, what fell out.

import { h, sv } from "../dom.js";
import { count, counted, fixed } from "../format.js";
import { byHand } from "../hand.js";
import { currentRun, set } from "../state.js";
import { REASON } from "../text.js";
import { GATES, LABELS } from "../text_rows.js";
import { KNOB, hasKnob, knob, turn } from "../knobs.js";
import { choiceRow, idOf, numberRow, select, switchRow, table } from "./controls.js";
import { handWords } from "./picked.js";
import { fold } from "./picks.js";
import { fineControls, isAutomatic, resetSieve, shareOut, widthFacts } from "./sieve_fine.js";

/** Places of the plain control, gentle to strict. */
const STRICT_STEPS = 20;

export function sieveCard() {
  const run = currentRun();
  const out = (run?.rows.stages ?? []).find((/** @type {any} */ stage) => stage.stage === "sieve")?.fell ?? 0;
  const off = hasKnob(KNOB.sieveOn) && knob(KNOB.sieveOn) === false;
  return { aside: run ? `${count(out)} out` : "", sub: off ? "off" : standing(run), inside };
}

/** Where the sieve stands, in words. @param {any} run */
function standing(run) {
  const least = run?.sieve?.least_rows ?? knob(KNOB.leastRows, 3);
  const strict = knob("sieve.strictness", null);
  const how = isAutomatic() ? "automatic" : strict !== null ? strictWords(strict) : "set by hand";
  return `${how}, least rows ${least}`;
}

/** @param {number} strict from -1 to 1 */
function strictWords(strict) {
  if (strict === 0) return "automatic";
  const size = Math.abs(strict);
  return `${size < 0.35 ? "a little " : size > 0.75 ? "much " : ""}${strict < 0 ? "gentler" : "stricter"}`;
}

/** The one plain control: a ruler from gentle to strict. @param {any} run */
function strictness(run) {
  if (!hasKnob("sieve.strictness")) return null;
  const strict = knob("sieve.strictness", null);
  const byHandSet = strict === null && !isAutomatic();
  const id = idOf("ruler strictness");
  const least = run?.sieve?.least_rows;
  const words = byHandSet ? "as the finer controls say" : strictWords(strict ?? 0);
  const ticks = Array.from({ length: 5 }, (_, i) => 2 + 24 * i);
  return h("div", { class: byHandSet ? "ruler strictness aside" : "ruler strictness" },
    h("div", { class: "row" }, h("label", { for: id }, "How strict"), h("span", { class: "quiet" }, words)),
    h("input", {
      type: "range", id, min: "0", max: String(STRICT_STEPS), step: "1", value: String(Math.round(((strict ?? 0) + 1) * STRICT_STEPS / 2)),
      "aria-valuetext": `${words}${least === undefined ? "" : `, least rows ${least}`}${run ? `, ${counted(run.rows.removed_count, "row")} out` : ""}`,
      oninput: (/** @type {any} */ event) => turn("sieve.strictness", Math.round((Number(event.target.value) * 2 - STRICT_STEPS) * 10 / STRICT_STEPS) / 10, "sieve"),
    }),
    sv("svg", { "aria-hidden": "true" },
      ticks.map((x) => sv("line", { x1: `${x}%`, x2: `${x}%`, y1: 0, y2: x === 50 ? 8 : 5 })),
      sv("text", { x: "1%", y: 19, class: "start" }, "gentle"), sv("text", { x: "50%", y: 19 }, "automatic"), sv("text", { x: "99%", y: 19, class: "end" }, "strict")));
}

function inside() {
  const run = currentRun();
  const sieve = run?.sieve;
  const least = sieve?.least_rows ?? knob(KNOB.leastRows) ?? 3;
  const front = strictness(run);
  return [
    settledWords(run),
    front,
    shareOut(sieve, least),
    isAutomatic() ? null : h("button", { class: "btn", onclick: resetSieve }, "Reset to automatic"),
    handWords(byHand()),
    run ? h("div", { class: "set" }, h("button", { class: "btn", onclick: () => set({ tab: "counts" }) }, "See the counts"), h("button", { class: "btn", onclick: () => set({ tab: "trust" }) }, "What did it change?")) : null,
    h("hr", null),
    fold({ id: "sieve-fine", open: front === null, title: "Cells and least rows", inside: () => fineControls(run) }),
    fold({ id: "sieve-gates", open: false, title: "Gates, each on or off", inside: () => gates(run) }),
    fold({ id: "sieve-fell", open: false, title: "What fell out, by reason", inside: () => fellOut(run) }),
    sieve ? fold({ id: "sieve-know", open: false, title: "How do we know?", inside: () => [
      h("p", { class: "note" }, `A row is out when fewer than the least rows read like it in all ${sieve.channels?.length ?? ""} channels at once, within one cell. ${count(sieve.occupied)} cells are occupied; an empty one costs nothing. The sieve alone cannot see a step that repeats: the step gate does.`),
      table(["channel", "cell width"], widthFacts(sieve), "facts", "Cell widths")] }) : null,
  ];
}

/** @param {any} run */
function settledWords(run) {
  const settled = run?.settled_points;
  if (!settled?.recognised && !settled?.used) return null;
  return [
    h("p", { class: "said" }, settled.used ? "Each row here is the average of one plateau, so the time gates and the sieve are off." : "This is a table of settled points: each row stands for itself, so the time gates and the sieve are off."),
    h("div", { class: "set" }, h("button", { class: "btn", onclick: () => set({ tab: "settled" }) }, "See the points")),
  ];
}

/** Rows that carry a reason: as the first, and at all. @param {any} run @param {string} code */
function reasonCounts(run, code) {
  const one = run?.rows.by_reason.find((/** @type {any} */ reason) => reason.code === code);
  return one ? `${count(one.first_reason)} first, ${count(one.any_reason)} in all` : "none";
}

/** @param {any} run */
function gates(run) {
  const on = knob(KNOB.gates, {}) ?? {};
  const line = (/** @type {[string, string]} */ [code, words]) => (typeof on[code] === "boolean"
    ? switchRow({ label: words, value: on[code], note: h("span", { title: REASON[code]?.[1] }, reasonCounts(run, code)), set: (value) => turn(`${KNOB.gates}.${code}`, value, "sieve") })
    : null);
  const limit = (/** @type {string} */ path, /** @type {string} */ label, /** @type {any} */ more) => (hasKnob(path) ? numberRow({ name: path, label, value: knob(path), least: 0, set: (/** @type {number|null} */ value) => value !== null && turn(path, value, "sieve"), ...more }) : null);
  return [
    h("div", { class: "group" }, h("h4", null, "Take rows out"), GATES.map(line)),
    h("div", { class: "group" }, h("h4", null, "Only label; the row stays"), LABELS.map(line)),
    h("p", { class: "note" }, "“First” counts rows whose first reason it is, “in all” every row that carries it. Lines that cannot be read and rows without a needed reading are always out: there is nothing to use."),
    hasKnob(KNOB.settledPoints) && typeof knob(KNOB.settledPoints) === "string" ? choiceRow({ name: "settled", label: "Settled points", value: knob(KNOB.settledPoints), options: [["auto", "found"], ["yes", "yes"], ["no", "no"]], set: (value) => turn(KNOB.settledPoints, value, "sieve") }) : null,
    hasKnob(KNOB.vote) ? h("div", { class: "group" }, h("h4", null, "A row read by few is saved"), select({ name: "vote", label: "What saves a row that few others read like", value: knob(KNOB.vote), options: [["off", "by nothing"], ["smooth", "in line with its neighbours"], ["revisited", "by two other passes"]], set: (value) => turn(KNOB.vote, value, "sieve") })) : null,
    limit(KNOB.settle, "Settling time after a start", { unit: "s" }),
    limit("sieve.step_limit", "A step is a change above", { unit: "√2 noises" }),
    limit("sieve.step_hold", "Rows out on each side of a step", {}),
    limit("sieve.spike_limit", "A spike stands out by", { unit: "robust deviations" }),
    hasKnob("sieve.slew_limit") ? numberRow({ name: "slew limit", label: "Delays may shift efficiency by", unit: "%", value: Number(((knob("sieve.slew_limit") ?? 0) * 100).toPrecision(12)), least: 0, set: (/** @type {number|null} */ value) => value !== null && turn("sieve.slew_limit", value / 100, "sieve") }) : null,
    limit(KNOB.supplyLimit, "Supply’s current limit", { unit: "A", empty: true, place: "none", set: (/** @type {number|null} */ value) => turn(KNOB.supplyLimit, value, "sieve") }),
  ];
}

/** @param {any} run */
function fellOut(run) {
  const reasons = (run?.rows.by_reason ?? []).filter((/** @type {any} */ one) => one.any_reason > 0);
  if (!reasons.length) return h("p", { class: "note" }, "No row carries a reason: all are kept.");
  return [
    table(["reason", "first", "in all"], reasons.map((/** @type {any} */ one) => [
      h("span", { title: REASON[one.code]?.[1] }, REASON[one.code]?.[1] ?? one.code, one.action === "label" ? h("span", { class: "quiet" }, " Kept, labelled.") : null), count(one.first_reason), count(one.any_reason)]), "", "Rows by reason"),
    h("p", { class: "note" }, `${count(run.rows.removed_count)} of ${counted(run.rows.read, "row")} out, ${fixed(run.rows.removed_share * 100, 2)} %.`),
  ];
}
