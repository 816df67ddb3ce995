// @ts-check
// A channel that switches its range: how the range of a row is told, gain and offset of each, and
// whether the readings meet where it switches.

import { h } from "../dom.js";
import { count, counted, plain, quantity, sentence, shortName } from "../format.js";
import { rangesOf, setRanges } from "../knobs.js";
import { numberRow, select } from "./controls.js";

/** The ranges found of a column, if it has more than one. @param {any} input @param {any} column */
export function foundRanges(input, column) {
  return (input.understood?.ranges ?? []).find((/** @type {any} */ one) => one.role === column.role && one.ranges?.length > 1) ?? null;
}

/** The roles whose range a column names. @param {any} input @param {any} column @returns {string[]} */
export function namesRangeOf(input, column) {
  return (input.understood?.ranges ?? []).filter((/** @type {any} */ one) => one.column === column.number).map((/** @type {any} */ one) => one.role);
}

/** Whether the readings meet where the range changes. @param {any} found @param {string} unit */
function seamWords(found, unit) {
  if (found.agrees === null) return h("p", { class: "note why", role: "status" }, found.switches ? `It switches ${counted(found.switches, "time")}, too seldom to check the seam.` : "It never switches with readings enough on both sides: the seam cannot be checked.");
  const names = found.ranges.map((/** @type {any} */ one) => one.name);
  const step = quantity({ value: Math.abs(found.step), u: found.step_u }, unit);
  const [more, less] = found.step < 0 ? [names[0], names[1]] : [names[1], names[0]];
  const which = names.length === 2 ? `${more} reads ${step} more than ${less}` : `the two that agree worst differ by ${step}`;
  return h("p", { class: found.agrees ? "note why" : "note why out", role: "status" },
    found.agrees ? `The ranges meet: over ${counted(found.switches, "change")} ${which}.` : `The ranges do not meet: over ${counted(found.switches, "change")} ${which}. State gain or offset of one of them.`);
}

/** In short, for the row of the column. @param {any} found */
export function rangeWords(found) {
  return [`switches its range: ${found.ranges.map((/** @type {any} */ one) => shortName(one.name, 12)).join(", ")}`, found.agrees === false ? "they do not meet" : null];
}

/** The editor. @param {any} input @param {number} at @param {any} column @param {string} unit */
export function rangeEditor(input, at, column, unit) {
  const found = foundRanges(input, column);
  const said = rangesOf(at, column.role);
  const told = said ? (said.column === null ? "steps" : String(said.column)) : "";
  const state = (/** @type {any} */ part) => setRanges(at, column.role, { role: column.role, column: said ? said.column : found?.column ?? null, ranges: said?.ranges ?? [], ...part });
  const tell = (/** @type {string} */ how) => (how === "" ? setRanges(at, column.role, null) : state({ column: how === "steps" ? null : Number(how) }));
  const correct = (/** @type {any} */ range, /** @type {any} */ part) => {
    const known = said?.ranges ?? [];
    const next = { name: range.name, gain: range.gain, offset: range.offset, ...part };
    state({ ranges: [...known.filter((/** @type {any} */ one) => one.name !== range.name), next] });
  };
  const others = (input.understood?.columns ?? []).filter((/** @type {any} */ one) => one.number !== column.number).slice(0, 400);
  return h("details", { key: `ranges ${at} ${column.role}`, open: found ? true : undefined },
    h("summary", null, found ? `Ranges: ${found.ranges.map((/** @type {any} */ one) => shortName(one.name, 12)).join(", ")}` : "Ranges that it switches"),
    h("div", { class: "group" },
      h("div", { class: "row" }, h("span", null, "The range is told by"), select({ name: `told ${at} ${column.role}`, label: `What tells the range of column ${column.number}`, value: told, options: [["", "what was found"], ["steps", "the size of the steps"], ...others.map((/** @type {any} */ one) => /** @type {[string, string]} */ ([String(one.number), `column ${one.number}${one.header ? `, ${shortName(one.header, 24)}` : ""}`]))], set: tell })),
      found ? [
        h("p", { class: "note why" }, sentence(found.reason)),
        found.ranges.map((/** @type {any} */ range) => h("div", { class: "group", key: `range ${range.name}` },
          h("h4", null, `Range ${range.name}: ${counted(range.rows, "row")}`),
          h("p", { class: "note" }, range.from === null ? "no readings" : `${plain(range.from, unit, 4)} to ${plain(range.to, unit, 4)}${range.resolution ? `, in steps of ${plain(range.resolution, unit, 3)}` : ""}.`),
          numberRow({ name: `gain ${at} ${column.role} ${range.name}`, label: `Gain of ${shortName(range.name, 12)}`, value: range.gain === 1 ? null : range.gain, least: 1e-9, empty: true, place: "1", set: (/** @type {number|null} */ gain) => correct(range, { gain: gain ?? 1 }) }),
          numberRow({ name: `offset ${at} ${column.role} ${range.name}`, label: `Offset of ${shortName(range.name, 12)}`, unit, value: range.offset === 0 ? null : range.offset, empty: true, place: "0", set: (/** @type {number|null} */ offset) => correct(range, { offset: offset ?? 0 }) }))),
        seamWords(found, unit),
        h("p", { class: "note" }, "What is used is the reading less the offset, divided by the gain.")]
        : h("p", { class: "note" }, said ? "No ranges were found so." : `All ${count(input.rows_found)} rows look like one range.`),
      said ? h("button", { class: "btn", onclick: () => setRanges(at, column.role, null) }, "Forget the ranges") : null));
}
