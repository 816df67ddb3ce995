// @ts-check
// Second question of a calibration: which runs are at hand, what each determines, which one to add.

import { h } from "../dom.js";
import { drawFixture } from "../figure/schematic.js";
import { count, counted, sentence, shortName } from "../format.js";
import { setColumnRole, setInputRole, setInputSaid } from "../knobs.js";
import { state } from "../state.js";
import { COLUMN_ROLES, RUN_ROLES } from "../text.js";
import { CALIBRATION_RUNS, runText, unknownWords } from "../text_fixture.js";
import { careBox, select, switchRow } from "./controls.js";
import { chooseFiles } from "./open.js";
import { fold } from "./picks.js";
import { wiresNow } from "./fixture_wiring.js";
import { determinedBy, fromRecord, litOf, runReport, wiringReport, wouldSettle } from "./fixture_known.js";

/** Whether an input is a calibration run. @param {any} input */
export function isCalibration(input) {
  return CALIBRATION_RUNS.some((one) => one.kind === input.role);
}

/** Inputs that are calibration runs, with their numbers. @returns {{input: any, at: number}[]} */
export function calibrationInputs() {
  return (state.view?.inputs ?? []).map((/** @type {any} */ input, /** @type {number} */ at) => ({ input, at })).filter((/** @type {any} */ one) => isCalibration(one.input));
}

/** @param {string} kind */
function kindName(kind) {
  return runText(kind)?.name ?? RUN_ROLES.find(([code]) => code === kind)?.[1] ?? kind;
}

/** Columns of one run whose meaning differs because a lead was moved. @param {any} input @param {number} at */
function movedLeads(input, at) {
  const columns = (input.understood?.columns ?? []).filter((/** @type {any} */ column) => column.role !== "time");
  return h("details", { key: `moved ${at}` }, h("summary", null, "A lead was moved for this run"),
    h("div", { class: "inside" },
      h("p", { class: "note" }, "Say what each column read in this run only. The other runs stay as they are."),
      columns.map((/** @type {any} */ column) => h("div", { class: "row" }, h("span", null, shortName(column.header ?? `column ${column.number}`, 24)),
        select({ name: `lead ${at} ${column.number}`, label: `What ${column.header ?? `column ${column.number}`} of ${input.name} read`, value: column.role ?? "extra", options: COLUMN_ROLES.filter(([role]) => role !== "time").map(([role, words]) => /** @type {[string, string]} */ ([String(role), String(words)])), set: (role) => setColumnRole(at, column, role) }))),
      wayEditor(input, at)));
}

/** Steps that a current can meet. @type {[string, string][]} */
const STEPS = [
  ["v_in", "sense lead V in"], ["v_out_high", "sense lead V out +"], ["v_out_low", "sense lead V out −"], ["i_in", "I in, forwards"], ["i_in_reversed", "I in, backwards"], ["i_out", "I out, forwards"], ["i_out_reversed", "I out, backwards"],
  ["in_high", "contact in +"], ["in_low", "contact in −"], ["out_high", "contact out +"], ["out_low", "contact out −"], ["shared_ground", "shared ground lead"], ["jumper_high", "bridging wire, plus"], ["jumper_low", "bridging wire, minus"], ["load", "load or resistor"], ["ground", "0 V of the logger"],
];

/** Where the editor of a way starts: the plain wiring of the kind. @type {Record<string, string[]>} */
const PLAIN_WAY = {
  straight_through: ["v_in", "i_in", "in_high", "jumper_high", "out_high", "i_out", "v_out_high", "load", "v_out_low", "out_low", "jumper_low", "in_low", "ground"],
  input_shorted: ["v_in", "i_in", "in_high", "jumper_high", "in_low", "ground"],
};

/** The way of the current, one step per line. @param {any} input @param {number} at */
function wayEditor(input, at) {
  const way = state.settings?.inputs?.[at]?.path ?? null;
  const put = (/** @type {string[]|null} */ next) => setInputSaid(at, "path", next);
  if (!way) return h("div", { class: "acts" }, h("button", { class: "btn", onclick: () => put(PLAIN_WAY[input.role] ?? PLAIN_WAY.straight_through) }, "Write down the way of its current"));
  return h("div", { class: "group" },
    h("p", { class: "note" }, "From the source’s plus to its minus, in the order in which the current meets them. A sense lead stands where it is clipped on."),
    h("ol", { class: "way" }, way.map((/** @type {string} */ step, /** @type {number} */ i) => h("li", { class: "row", key: `step ${at} ${i}` },
      select({ name: `step ${at} ${i}`, label: `Step ${i + 1}`, value: step, options: STEPS, set: (value) => put(way.with(i, value)) }),
      h("span", { class: "pairfields" },
        h("button", { class: "btn icon", "aria-label": `Add a step after step ${i + 1}`, onclick: () => put(way.toSpliced(i + 1, 0, "load")) }, "+"),
        h("button", { class: "btn icon", "aria-label": `Take step ${i + 1} out`, disabled: way.length < 3, onclick: () => put(way.toSpliced(i, 1)) }, "×"))))),
    h("div", { class: "acts" }, h("button", { class: "btn", onclick: () => put(null) }, "Back to the usual way")));
}

/** One run at hand. @param {any} input @param {number} at */
function runRow(input, at) {
  const names = determinedBy(at);
  const words = names.length ? names.map(unknownWords).join(", ") : "";
  const stated = state.settings?.inputs?.[at]?.kind;
  return h("li", { key: `run ${at}`, class: "calrun" },
    drawFixture(wiresNow(), { kind: input.role, lit: litOf(runReport(at)), words: `${kindName(input.role)}. ${words ? `Determines ${words}.` : "Determines nothing by itself."}` }),
    h("div", { class: "group" },
      h("div", { class: "row" }, h("b", { title: input.name }, shortName(input.name, 30)), h("span", { class: "note" }, counted(input.rows_usable, "row"))),
      h("div", { class: "row" }, select({ name: `kind ${at}`, label: `What ${input.name} is`, value: input.role, options: /** @type {[string, string][]} */ (RUN_ROLES), set: (role) => setInputRole(at, role) }), h("span", { class: "note" }, stated ? "as you said" : "guessed")),
      h("p", { class: "gives" }, names.length ? [h("span", { class: "key dot" }), ` Determines ${words}.`] : fromRecord() ? "Checks the record, or waits: the record is in use." : state.settings?.inputs?.[at]?.hold_back ? "Held back: it judges the fit." : "Determines nothing by itself."),
      input.role_evidence && !stated ? h("p", { class: "note" }, sentence(input.role_evidence)) : null,
      switchRow({ label: "Hold it back", value: state.settings?.inputs?.[at]?.hold_back ?? false, note: "out of the fit, to judge the fit by", set: (on) => setInputSaid(at, "hold_back", on) }),
      movedLeads(input, at)));
}

/** Unknowns that do not act on the efficiency. */
const ASIDE = ["in_high", "in_low", "out_high", "out_low", "shared_ground"];

/** What a run that could be made would determine, as the circuit says. @param {string} kind */
function promise(kind) {
  const names = wouldSettle(kind);
  if (!names.length) return "Determines nothing more than the runs at hand do.";
  return `Determines ${names.map(unknownWords).join(", ")}.${names.every((name) => ASIDE.includes(name)) ? " Efficiency does not need it." : ""}`;
}

/** How to make one run. @param {string} kind @param {any} [extra] */
export function howTo(kind, extra) {
  const text = runText(kind);
  if (!text) return null;
  return h("div", { class: "howto", key: `how ${kind}` },
    drawFixture(wiresNow(), { kind, lit: litOf(wiringReport(kind)), words: text.does }),
    h("div", { class: "group" }, h("h4", null, text.name, h("span", { class: "note" }, ` about ${text.time}`)), h("p", null, text.does), h("p", { class: "note" }, promise(kind)), careBox(text.care), extra ?? null,
      h("div", { class: "row" }, h("button", { class: "btn", onclick: chooseFiles }, `Add this run’s log`))));
}

/** @param {boolean} open @param {number} number */
export function runsQuestion(open, number) {
  const have = calibrationInputs();
  const kinds = new Set(have.map(({ input }) => input.role));
  const missing = CALIBRATION_RUNS.filter((one) => !kinds.has(one.kind));
  const others = (state.view?.inputs ?? []).length - have.length;
  return fold({
    id: "runs", open, kind: "question plate whole",
    title: [h("span", { class: "ring" }, String(number)), "Which calibration runs do you have?"],
    aside: have.length ? have.map(({ input }) => kindName(input.role)).filter((name, i, all) => all.indexOf(name) === i).join(", ").toLowerCase() : "none yet",
    inside: () => [
      have.length ? h("ul", { class: "calruns" }, have.map(({ input, at }) => runRow(input, at))) : h("p", { class: "said" }, "No calibration run is open. Record the first three below, with the same leads and logger as your converter’s run, and drop their logs here."),
      others ? h("p", { class: "note" }, `${counted(others, "other log")} open: ${count(others)} taken as a converter’s run. What each is can be changed in the Log card.`) : null,
      missing.length ? h("div", { class: "group" }, h("h4", null, have.length ? "Runs that could be added" : "Runs to record"), missing.map((one) => h("details", { key: `missing ${one.kind}` }, h("summary", null, h("b", null, one.name), ` ${promise(one.kind)}`), howTo(one.kind)))) : null,
    ],
  });
}
