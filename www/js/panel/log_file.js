// @ts-check
// One log: what it was taken for and why, what it asks, what may be wrong with it, what can be done at once.

import { h } from "../dom.js";
import { wiringPicture } from "../figure/wiring.js";
import { count, counted, fileSize, percentOf, plain, sentence, span, times } from "../format.js";
import { removeInput } from "../inputs.js";
import { exchangeSides, inputResistor, isJoined, joinTo, rowPeriod, runNameOf, setInputResistor, setInputRole, setReversed, setRoles, setRowPeriod, setRunName } from "../knobs.js";
import { changed, state } from "../state.js";
import { CHANNEL, COLUMN_ROLES, RUN_ROLES, TIME_FORM, wordsOf } from "../text.js";
import { logger } from "./card_alignment.js";
import { numberRow, select, wrong } from "./controls.js";
import { columnTable } from "./log_columns.js";
import { howRead, problemList, rowsAsTheyStand } from "./log_text.js";

/** @param {string} role */
export function roleWords(role) {
  return RUN_ROLES.find(([code]) => code === role)?.[1] ?? wordsOf(role);
}

/** Rows, time and rate in one line. @param {any} input */
export function factsOf(input) {
  if (input.outcome === "refused") return fileSize(input.bytes);
  const pace = input.row_period > 0 ? `${span(input.duration)}, a row each ${plain(input.row_period, "s", 3)}` : "no time known";
  return `${roleWords(input.role).split(":")[0]}; ${pace}`;
}

// --- what it is --------------------------------------------------------------------------------------

/** @param {any} input @param {number} at */
function whatItIs(input, at) {
  const next = input.role_next;
  const stated = state.settings?.inputs?.[at]?.kind ?? null;
  return h("div", { class: "group", key: `kind ${at}` },
    h("div", { class: "row" }, h("span", null, "This log is"),
      select({ name: `kind ${at}`, label: "What this log is", value: input.role ?? "run", options: /** @type {[string, string][]} */ (RUN_ROLES), set: (role) => setInputRole(at, role) })),
    input.role_evidence ? h("p", { class: "note why" }, "Told by content: ", input.role_evidence.replace(/\.$/, ""), ".") : null,
    next?.role ? h("p", { class: "note why" }, `Next best: ${roleWords(next.role).split(":")[0].toLowerCase()}. ${sentence(next.evidence)} `, h("button", { class: "btn small", onclick: () => setInputRole(at, next.role) }, "Take it for that")) : null,
    stated !== null ? h("p", { class: "note why" }, "As you set it. ", h("button", { class: "btn small", onclick: () => setInputRole(at, null) }, "Tell it by content")) : null,
    input.role !== "run" && input.role !== "table" ? wiringPicture(input.role, inputResistor(at) ? plain(inputResistor(at), "Ω") : undefined) : null,
    input.role === "straight_through" ? [
      numberRow({ name: `resistor ${at}`, label: "Calibration resistor, cold", unit: "Ω", value: inputResistor(at), least: 0, empty: true, place: "optional", set: (/** @type {number|null} */ value) => setInputResistor(at, value) }),
      h("p", { class: "note why" }, "Efficiency does not need it; it serves the absolute scale.")] : null,
    joining(input, at),
    (input.loggers ?? []).map(logger));
}

/** Whether a converter is at work in a log. @param {any} input */
const isRun = (input) => input.role === "run" || input.role === "table";

/** How it hangs together with the log before it. @param {any} input @param {number} at */
function joining(input, at) {
  const how = isJoined(at);
  const earlier = (state.view?.inputs ?? []).slice(0, at)
    .filter((/** @type {any} */ one, /** @type {number} */ place) => one.outcome !== "refused" && isJoined(place) !== "beside");
  const before = earlier.at(-1);
  const continued = isRun(input) ? earlier.filter(isRun).at(-1) : null;
  const name = runNameOf(at);
  /** @type {[string, string][]} */
  const ways = [["alone", "A run of its own"]];
  if (continued) ways.push(["continues", `Its rows continue ${continued.name.slice(0, 40)}`]);
  if (before) ways.push(["beside", `Further channels of ${before.name.slice(0, 40)}, from a second logger`]);
  return h("details", { key: `joining ${at}` }, h("summary", null, { alone: "A run of its own", continues: "Continues the run before it", beside: "A second logger of the run before it" }[how]),
    h("div", { class: "group" },
      ways.length > 1 ? select({ name: `joined ${at}`, label: "How this log hangs together with the one before it", value: how, options: ways, set: (chosen) => joinTo(at, chosen) })
        : h("p", { class: "note" }, "No log stands before it that it could belong to."),
      how === "alone" && isRun(input) ? h("div", { class: "row" }, h("span", null, "Name of the run"), h("input", { class: "field", type: "text", "aria-label": "Name of the run", value: name ?? "", placeholder: input.name.replace(/\.[^.]*$/, "").slice(0, 60), autocomplete: "off", spellcheck: "false", onchange: (/** @type {any} */ event) => setRunName(at, event.target.value.trim() || null), onkeydown: (/** @type {any} */ event) => event.key === "Enter" && event.target.blur() })) : null));
}

// --- what it asks ------------------------------------------------------------------------------------

/** @param {any} suggestion */
function suggestionWords(suggestion) {
  return (suggestion.columns ?? []).map((/** @type {[string, number]} */ [role, number]) => `${CHANNEL[role] ?? wordsOf(role)} in column ${number}`).join(", ");
}

/** Which channels no column was recognised as. @param {any[]} roles */
function missingWords(roles) {
  if (roles.length === 1) return sentence(roles[0].message.replace(/; name one$/, ""));
  if (roles.length > 2) return "Its names do not say which columns are voltages and currents.";
  const [first, second] = roles.map((one) => one.message.replace(/; name one$/, ""));
  return sentence(`${first}, ${second.replace(/^no column was recognised as/, "and none as")}`);
}

/** @param {any} input @param {number} at */
function asked(input, at) {
  const asks = input.asks ?? [];
  const suggestions = input.suggestions ?? [];
  if (!asks.length && !suggestions.length) return null;
  const roles = asks.filter((/** @type {any} */ one) => one.code === "role_missing");
  const others = asks.filter((/** @type {any} */ one) => one.code !== "role_missing" && one.code !== "row_period_missing");
  return h("div", { class: "group asks", key: `asks ${at}` },
    roles.length ? wrong(missingWords(roles), suggestions.length || roles.length > 2 ? "Say it in the table of columns below." : "Say it in the table of columns below. What another logger recorded comes with that logger’s log: add it, and say there that it is a second logger.") : null,
    suggestions.map((/** @type {any} */ one, /** @type {number} */ i) => h("div", { class: "offer", key: `offer ${i}` },
      h("p", null, h("b", null, i ? "Next best: " : "Best guess: "), suggestionWords(one), "."),
      h("p", { class: "note" }, `Less power out than in with it in ${percentOf(one.plausible_share)} of the rows looked at.`),
      h("button", { class: i ? "btn" : "btn main", onclick: () => setRoles(at, one.columns) }, i ? "Use the next best" : "Use the best guess"))),
    others.map((/** @type {any} */ one) => wrong(sentence(one.message), null)));
}

/** Time: how it was understood, or the question. @param {any} input @param {number} at */
function timeRow(input, at) {
  const time = input.understood?.time ?? {};
  const missing = (input.asks ?? []).find((/** @type {any} */ one) => one.code === "row_period_missing");
  const has = (input.understood?.columns ?? []).some((/** @type {any} */ column) => column.role === "time");
  const period = rowPeriod(at);
  const words = [TIME_FORM[time.form] ?? wordsOf(time.form ?? ""), time.wraps ? `${time.form === "date_time" ? "midnight passed" : "the counter started again"} ${times(time.wraps)}` : null].filter(Boolean).join("; ");
  const why = time.reason && !/^unit \S+$/.test(time.reason) && time.reason !== TIME_FORM[time.form] ? ` ${sentence(time.reason)}` : "";
  return h("div", { class: "group", key: `time ${at}` },
    missing ? wrong(sentence(missing.message.split(";")[0]), "State the seconds from row to row.") : null,
    missing || period !== null || !has ? numberRow({ name: `period ${at}`, label: "Time from row to row", unit: "s", value: period, least: 0, empty: true, place: "not said", set: (/** @type {number|null} */ value) => setRowPeriod(at, value) })
      : words ? h("p", { class: "note" }, `Time: ${words}.`, why) : null,
    input.segments?.length > 1 ? h("p", { class: "note" }, `${counted(input.segments.length, "stretch", "stretches")}: ${segmentWords(input.segments)}.`) : null);
}

/** @type {Record<string, string>} */
const WHY_SEGMENT = { clock_back: "the clock goes back", header: "the header stands again", gap: "rows are missing" };

/** @param {any[]} segments */
function segmentWords(segments) {
  const later = segments.slice(1);
  const few = later.slice(0, 3).map((one) => `before row ${count(one.first)} ${WHY_SEGMENT[one.why] ?? wordsOf(one.why)}`);
  return few.join(", ") + (later.length > 3 ? ", and so on" : "");
}

// --- all of it ---------------------------------------------------------------------------------------

/** What can be done at once about a kind of problem. @param {any} input @param {number} at @returns {Record<string, any>} */
function actsOf(input, at) {
  const problem = (/** @type {string} */ code) => (input.problems ?? []).find((/** @type {any} */ one) => one.code === code);
  const backwards = (problem("backwards")?.examples ?? []).map((/** @type {any} */ one) => /^([a-z_]+) below zero/.exec(one.found ?? "")?.[1]).filter(Boolean);
  return {
    backwards: backwards.length ? h("div", { class: "row start" }, backwards.map((/** @type {string} */ role) => {
      const exact = role === "v_out_high" && (input.understood?.columns ?? []).some((/** @type {any} */ column) => column.role === "v_out") ? "v_out" : role;
      return h("button", { class: "btn", onclick: () => setReversed(at, exact, true) }, `Turn the sign of ${CHANNEL[exact] ?? exact}`);
    })) : null,
    exchanged: problem("exchanged") ? h("button", { class: "btn", onclick: () => exchangeSides(at, input.understood?.columns ?? []) }, "Exchange input and output") : null,
  };
}

/** Doubts that stand in front, not among the problems. */
const DOUBTS = ["backwards", "exchanged"];

/** The inside of a log's card. @param {any} input @param {number} at */
export function fileInside(input, at) {
  const redraw = changed;
  const acts = actsOf(input, at);
  const doubts = (input.problems ?? []).filter((/** @type {any} */ one) => DOUBTS.includes(one.code));
  const rest = { ...input, problems: (input.problems ?? []).filter((/** @type {any} */ one) => !DOUBTS.includes(one.code)) };
  const refused = input.outcome === "refused";
  return [
    input.name.length > 44 ? h("p", { class: "whole" }, input.name) : null,
    refused ? [wrong(sentence(input.refusal), "It stays aside until another way of reading makes sense of it; everything else is as it was.")] : null,
    refused ? null : h("p", { class: "note first" }, `${fileSize(input.bytes)}${input.packed_in ? ` out of ${input.packed_in}` : ""}; ${input.rows_usable === input.rows_found ? "every row" : counted(input.rows_usable, "row")} with all used channels.${input.grown?.rows ? ` It grew: the last ${counted(input.grown.rows, "row")} came later.` : ""}`),
    refused ? null : whatItIs(input, at),
    asked(input, at),
    doubts.map((/** @type {any} */ one) => h("div", { class: "offer", key: `doubt ${one.code}` }, one.examples.map((/** @type {any} */ example) => h("p", null, doubtWords(one.code, example))), acts[one.code])),
    refused ? null : columnTable(input, at, redraw),
    refused ? null : timeRow(input, at),
    howRead(input, at),
    rowsAsTheyStand(input, at, redraw),
    problemList(rest, at, acts),
    h("div", { class: "row start" }, h("button", { class: "btn", onclick: () => removeInput(at) }, "Take this log out")),
  ];
}

/** @param {string} code @param {any} example */
function doubtWords(code, example) {
  const found = String(example.found).replace(/^([a-z_]+)(?= below zero)/, (role) => CHANNEL[role] ?? role);
  return `${sentence(found)} ${code === "backwards" ? "If its leads were exchanged, turn its sign." : "If input and output were exchanged, give the columns the other way round."}`;
}

/** Short words about the state of a log, or nothing. @param {any} input */
export function stateWords(input) {
  if (input.outcome === "refused") return "not read";
  if (input.asks?.length) return input.asks.length === 1 ? "asks" : `asks ${input.asks.length} things`;
  const doubtful = (input.problems ?? []).filter((/** @type {any} */ one) => DOUBTS.includes(one.code));
  if (doubtful.length) return "look at it";
  return input.problems?.length ? counted(input.problems.length, "kind of problem", "kinds of problem") : "";
}
