// @ts-check
// The Log card: what was opened, what each log is, what could not be read.

import { h, renderInto } from "../dom.js";
import { wiringPicture } from "../figure/wiring.js";
import { count, counted, fileSize, plain, sentence, shortName, span } from "../format.js";
import { ask } from "../link.js";
import { removeInput } from "../inputs.js";
import { currentInputs, currentRun, overtaken, report, set, state } from "../state.js";
import { REASON, RUN_ROLES } from "../text.js";
import { inputResistor, readingOf, setInputResistor, setInputRole, setReadingOf } from "../knobs.js";
import { numberRow, select, wrong } from "./controls.js";
import { chooseFiles } from "./open.js";

/** The input the Log and Channels cards speak of. */
export function chosenInput() {
  const inputs = state.view?.inputs ?? [];
  return inputs[state.input] ?? inputs[0] ?? null;
}

/** @param {string} role */
function roleWords(role) {
  return RUN_ROLES.find(([code]) => code === role)?.[1] ?? role;
}

/** @param {any} at */
function problemPlace(at) {
  const column = at.column ? `, column ${at.column}${at.header ? ` “${shortName(at.header, 24)}”` : ""}` : "";
  const found = at.found === null || at.found === "" ? "nothing" : at.column ? `“${shortName(String(at.found), 40)}”` : shortName(String(at.found), 60);
  return `Line ${count(at.line)}${column}: found ${found}${at.expected ? `, expected ${at.expected}` : ""}.`;
}

/** @param {any} problem */
function problemLines(problem) {
  const shown = problem.examples ?? [];
  return h("li", null,
    shown.map((/** @type {any} */ at, /** @type {number} */ i) => wrong(problemPlace(at), at.hint !== shown[i + 1]?.hint ? sentence(at.hint) : null)),
    problem.count > shown.length ? h("p", { class: "note" }, `and ${counted(problem.count - shown.length, "more line")} of this kind (${REASON[problem.code]?.[1] ?? String(problem.code).replaceAll("_", " ")}).`) : null);
}

const PREVIEW_ROWS = 12;

/** @param {HTMLElement} box @param {number} input @param {number} first */
async function fillPreview(box, input, first) {
  let answer;
  try {
    answer = await ask("preview", { input, first, count: PREVIEW_ROWS });
  } catch (error) {
    if (!overtaken(error)) report(error, "log");
    return;
  }
  renderInto(box,
    h("div", { class: "scroll", tabindex: "0", role: "group", "aria-label": "Rows of the log" }, h("table", null,
      h("thead", null, h("tr", null, h("th", { scope: "col" }, "line"), answer.headers.map((/** @type {string} */ name) => h("th", { scope: "col" }, name)))),
      h("tbody", null, answer.rows.map((/** @type {any} */ row) => h("tr", null, h("td", { class: "quiet" }, count(row.line), row.problem ? " ×" : ""), row.cells.map((/** @type {string} */ cell) => h("td", null, cell))))))),
    h("div", { class: "row" },
      h("button", { class: "btn", disabled: first === 0, onclick: () => fillPreview(box, input, Math.max(0, first - PREVIEW_ROWS)) }, "Earlier"),
      h("span", { class: "note" }, `from row ${count(first)}; × not all read`),
      h("button", { class: "btn", disabled: answer.rows.length < PREVIEW_ROWS, onclick: () => fillPreview(box, input, first + PREVIEW_ROWS) }, "Later")));
}

/** @param {number} input */
function preview(input) {
  const box = h("div", { class: "group", own: true });
  return h("details", { key: `preview ${input} ${state.viewNumber}`, ontoggle: (/** @type {any} */ event) => event.target.open && fillPreview(event.target.lastElementChild, input, 0) }, h("summary", null, "Rows as read"), box);
}

/** @param {number} at @param {string} key @param {string} label @param {[string, string][]} options */
function dialect(at, key, label, options) {
  return h("div", { class: "row" }, h("span", null, label), select({ name: `${key} ${at}`, label, value: readingOf(at, key) ?? "", options, set: (value) => setReadingOf(at, key, value === "" ? null : value) }));
}

/** @returns {{aside: any, sub: any, inside: () => any}} */
export function logCard() {
  const inputs = state.view?.inputs ?? [];
  const mine = currentInputs();
  const front = inputs[mine[0]] ?? inputs[0];
  const run = currentRun();
  const rate = front?.row_period > 0 ? `${span(front.duration)}, a row each ${span(front.row_period)}` : front ? span(front.duration) : "";
  return {
    aside: mine.length > 1 ? `${mine.length} logs` : front ? shortName(front.name) : "",
    sub: run ? `${rate}, ${counted(front?.understood?.columns?.length ?? 0, "column")}` : `${counted(inputs.length, "log")}, no converter’s run yet`,
    inside: inside,
  };
}

function inside() {
  const inputs = state.view?.inputs ?? [];
  const input = chosenInput();
  const at = inputs.indexOf(input);
  if (!input) return null;
  const resistorRole = input.role === "straight_through";
  return [
    inputs.length > 1 ? select({ name: "input", label: "Log to look at", value: String(at), options: inputs.map((/** @type {any} */ one, /** @type {number} */ i) => /** @type {[string, string]} */ ([String(i), `${shortName(one.name, 22)}: ${roleWords(one.role)}`])), set: (value) => set({ input: Number(value) }) }) : null,
    h("p", null, input.name, h("span", { class: "quiet" }, ` ${fileSize(input.bytes)}`)),
    h("p", { class: "note" }, `${counted(input.rows_found, "row")}, ${count(input.rows_usable)} with all used channels; ${span(input.duration)}${input.segments?.length > 1 ? `, in ${input.segments.length} stretches` : ""}.`),
    h("div", { class: "group" }, h("h4", null, "This log is"),
      select({ name: "role", label: "What this log is", value: input.role ?? "run", options: /** @type {[string, string][]} */ (RUN_ROLES), set: (role) => setInputRole(at, role) }),
      wiringPicture(input.role ?? "run", inputResistor(at) ? plain(inputResistor(at), "Ω") : undefined),
      input.role_evidence ? h("p", { class: "note" }, sentence(input.role_evidence)) : null),
    resistorRole ? [numberRow({ name: `resistor ${at}`, label: "Calibration resistor, cold", unit: "Ω", value: inputResistor(at), least: 0, empty: true, place: "not needed", set: (/** @type {number|null} */ value) => setInputResistor(at, value) }),
      h("p", { class: "note" }, "Efficiency does not need it; it serves the absolute scale.")] : null,
    input.refusal ? wrong(input.refusal) : null,
    (input.asks ?? []).map((/** @type {any} */ one) => wrong(one.message, "Answer in the Channels card.")),
    input.problems?.length ? h("details", { key: `problems ${at}`, class: "problems" }, h("summary", null, `${count(input.problems.reduce((/** @type {number} */ sum, /** @type {any} */ one) => sum + one.count, 0))} things could not be read as they stand`), h("ul", { class: "group" }, input.problems.map(problemLines))) : h("p", { class: "note" }, "Every line was read."),
    preview(at),
    (input.understood?.evidence ?? []).length ? h("details", { key: `evidence ${at}` }, h("summary", null, "How was it read?"), input.understood.evidence.map((/** @type {string} */ clause) => h("p", { class: "note" }, sentence(clause))),
      dialect(at, "separator", "Separator", [["", "found"], [",", "comma"], [";", "semicolon"], ["\t", "tab"], ["|", "bar"], [" ", "spaces"]]), dialect(at, "decimal_mark", "Decimal mark", [["", "found"], [".", "point"], [",", "comma"]])) : null,
    h("div", { class: "row" }, h("button", { class: "btn", onclick: chooseFiles }, "Add a log"), h("button", { class: "btn", onclick: () => removeInput(at) }, "Take this log out")),
  ];
}
