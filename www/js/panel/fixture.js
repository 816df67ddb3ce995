// @ts-check
// The Fixture view: the schematic lit where known, runs against unknowns, the resistor against time, the
// straight-through efficiency by current.

import { h } from "../dom.js";
import { count, fixed, pieces, quantity, sentence, shortName } from "../format.js";
import { drawBands, drawTrack } from "../figure/small.js";
import { fixtureSchematic, wiringPicture } from "../figure/wiring.js";
import { currentRun, state } from "../state.js";
import { CARE_FIXTURE, CARE_SHORTED, GRADE, RECORD, RUN_ROLES, wordsOf } from "../text.js";
import { careBox, table, wrong } from "./controls.js";
import { partBars, partsOf } from "./parts.js";
import { splitSentence } from "./card_fixture.js";
import { saveCalibration } from "./share.js";

/** What can be known, in the order of the table's columns. */
const UNKNOWNS = [["volts", "volts ratio"], ["amperes", "amperes ratio"], ["offsets", "offsets"], ["path", "R in + R out"], ["in", "R in"], ["out", "R out"], ["four", "the four apart"]];

/** Which wiring gives what (a fact of the circuit: one line per wiring). @type {Record<string, string[]>} */
const GIVES = {
  all_off: ["offsets"], open_sweep: ["volts", "offsets"], straight_through: ["amperes", "path"],
  input_shorted: ["in"], output_shorted: ["out"], cross_bridge: ["four"],
};

/** The result's name for each unknown that has one. @type {Record<string, string>} */
const NAME = { volts: "voltage_gain_ratio", amperes: "current_gain_ratio", path: "correction_sum", in: "correction_in", out: "correction_out" };

/** Runs that settle an unknown together where none does alone. @type {Record<string, string[]>} */
const TOGETHER = {
  volts: ["straight_through", "input_shorted", "output_shorted"], amperes: ["input_shorted", "output_shorted"], path: ["input_shorted", "output_shorted"],
  in: ["straight_through", "output_shorted"], out: ["straight_through", "input_shorted"],
};

/** @param {any} fixture @param {string} id whether the fit calls it determined; without a name the circuit decides */
function isKnown(fixture, id) {
  const alone = fixture?.known?.alone;
  if (!alone) return true;
  if (id === "four") return ["in_high", "in_low", "out_high", "out_low"].every((name) => alone.includes(name));
  return NAME[id] ? alone.includes(NAME[id]) : true;
}

/** What a run of this wiring does for an unknown. @param {any} fixture @param {Set<string>} have wirings at hand @param {string} role @param {string} id @returns {"alone"|"together"|null} */
function partIn(fixture, have, role, id) {
  if (!fixture || !isKnown(fixture, id)) return null;
  if (GIVES[role].includes(id)) return "alone";
  const anyAlone = [...have].some((other) => GIVES[other].includes(id));
  return !anyAlone && TOGETHER[id]?.includes(role) ? "together" : null;
}

export function fixtureTools() {
  return state.view?.fixture ? h("button", { class: "btn", onclick: saveCalibration }, "Save the calibration") : null;
}

/** @param {string} role */
function runWords(role) {
  const name = RUN_ROLES.find(([code]) => code === role)?.[1] ?? wordsOf(role);
  return `A run “${name.split(":")[0].toLowerCase()}”`;
}

/** @param {any} fixture */
function matrix(fixture) {
  const inputs = (state.view?.inputs ?? []).filter((/** @type {any} */ input) => GIVES[input.role]);
  const have = new Set(inputs.map((/** @type {any} */ input) => input.role));
  const missing = Object.keys(GIVES).filter((role) => !have.has(role));
  const roleName = (/** @type {string} */ role) => RUN_ROLES.find(([code]) => code === role)?.[1] ?? role;
  const mark = (/** @type {string|null} */ part, /** @type {boolean} */ would) => part === "alone"
    ? h("span", { class: "key dot", role: "img", "aria-label": "determines" })
    : part === "together" ? h("span", { class: "key dot half", role: "img", "aria-label": "determines together with another run" })
    : would ? h("span", { class: "key ringed", role: "img", "aria-label": "would check or settle" }) : null;
  const single = (/** @type {any} */ q) => (q?.value === null || q?.value === undefined ? h("span", { class: "quiet" }, "unknown") : q);
  const shown = (/** @type {any} */ q, /** @type {string} */ unit) => (q?.value === null || q?.value === undefined ? single(q) : quantity(q, unit));
  const divided = fixture && fixture.split?.by !== "none";
  const results = fixture ? [shown(fixture.voltage_gain_ratio, ""), shown(fixture.current_gain_ratio, ""), fixture.channels ? "taken out" : "–", shown(fixture.sums?.path, "Ω"),
    divided ? shown(fixture.correction_in, "Ω") : single(null), divided ? shown(fixture.correction_out, "Ω") : single(null),
    isKnown(fixture, "four") ? "known" : single(null)] : UNKNOWNS.map(() => "–");
  return h("table", { class: "matrix" },
    h("thead", null, h("tr", null, h("th", { scope: "col" }, "run"), h("th", { scope: "col" }, "rows"), UNKNOWNS.map(([, words]) => h("th", { scope: "col" }, words)))),
    h("tbody", null,
      inputs.map((/** @type {any} */ input) => h("tr", null, h("td", { title: input.name }, roleName(input.role).split(":")[0], h("span", { class: "note" }, ` ${shortName(input.name, 22)}`)), h("td", null, count(input.rows_usable)), UNKNOWNS.map(([id]) => h("td", null, mark(partIn(fixture, have, input.role, id), false))))),
      missing.map((role) => h("tr", null, h("td", { class: "quiet" }, roleName(role).split(":")[0]), h("td", { class: "quiet" }, "–"), UNKNOWNS.map(([id]) => h("td", null, mark(null, GIVES[role].includes(id) && (!fixture || !isKnown(fixture, id) || id === "in" || id === "out"))))))),
    h("tfoot", null, h("tr", null, h("td", null, "Result"), h("td", null, ""), results.map((words) => h("td", null, words)))));
}

/** What a lit contact means. @param {any} fixture */
function litWords(fixture) {
  const by = fixture?.split?.by ?? "none";
  /** @type {Record<string, string>} */
  const words = { measured: "known, each side as a sum", given: "as you gave it", equal_contacts: "known as one sum, its split assumed" };
  return [words[by] ? [h("span", { class: "key" }), words[by]] : null, h("span", { class: "key un" }), words[by] ? "not known, not needed" : fixture ? "not known apart" : "not known"];
}

/** Why the calibration runs gave nothing. */
function calibrationProblem() {
  const problem = state.view?.calibration_problem;
  return problem ? wrong(sentence(problem), "Efficiency stays as logged until then. Open the Fixture card, or take the calibration run out in the Log card.") : null;
}

/** @param {any} fixture */
function schematic(fixture) {
  const by = fixture?.split?.by ?? "none";
  const divided = by !== "none";
  const lit = { in_high: divided, in_low: divided, out_high: divided, out_low: divided };
  return fixtureSchematic({
    inside: lit, asSum: true,
    rIn: divided ? quantity(fixture?.correction_in, "Ω") : "not known alone", rOut: divided ? quantity(fixture?.correction_out, "Ω") : "not known alone",
    path: fixture?.sums?.path?.value ? `together ${quantity(fixture.sums.path, "Ω")}` : fixture ? "" : "not calibrated", load: "load",
  });
}

/** @param {any} resistor */
function resistorSheet(resistor) {
  const name = state.view?.inputs?.[resistor.input]?.name;
  return h("section", { class: "plate", key: `resistor ${resistor.input}` }, h("h2", null, "Calibration resistor against time", name ? h("small", null, shortName(name, 24)) : null),
    h("div", { class: "small mid" }, h("canvas", { role: "img", "aria-label": `Its value over time, before and after correction. Cold ${quantity(resistor.cold, "Ω")}, largest drift ${quantity(resistor.largest_drift, "%")}.`, draw: (/** @type {HTMLCanvasElement} */ canvas) => drawTrack(canvas, resistor) })),
    h("p", { class: "note" }, `Cold ${quantity(resistor.cold, "Ω")}; largest drift ${quantity(resistor.largest_drift, "%")}. `, resistor.heating_warning ? null : `No warning: that takes more than ${quantity({ value: resistor.warn_above, u: null }, "%")}.`),
    resistor.heating_warning ? h("p", { class: "care" }, h("b", null, "It warmed up. "), "Its value is not needed for efficiency; let it cool, or sweep faster.") : null);
}

/** @param {any[]} bands @param {boolean} whole across both columns */
function bandSheet(bands, whole) {
  return h("section", { class: whole ? "plate whole" : "plate", key: "bands" }, h("h2", null, "Straight-through efficiency by current"),
    h("div", { class: "small mid" }, h("canvas", { role: "img", "aria-label": "Corrected efficiency of the straight-through run by current band; the truth is 100 %. The table below has the values.", draw: (/** @type {HTMLCanvasElement} */ canvas) => drawBands(canvas, bands) })),
    table(["current / A", "as logged / %", "corrected / %, ± points", "rows"], bands.map((band) => [`${fixed(band.i_from, 2)} to ${fixed(band.i_to, 2)}`, band.as_logged === null ? "–" : fixed(band.as_logged * 100, 2), quantity(band.efficiency, "%").replace(" %", ""), count(band.n)]), "facts", "Efficiency of the straight-through run; the truth is 100 %"));
}

export function fixturePanel() {
  const fixture = state.view?.fixture;
  const resistors = fixture?.calibration_resistors ?? [];
  const bands = fixture?.acceptance ?? [];
  return h("div", { class: state.stale && !state.early ? "sheets dim" : "sheets" },
    h("section", { class: "plate whole", key: "schematic" },
      h("h2", null, "What lies between the sense nodes and the converter", h("small", null, litWords(fixture))),
      schematic(fixture)),
    h("section", { class: "plate whole", key: "matrix" },
      h("h2", null, "What each run determines", h("small", null, h("span", { class: "key dot" }), "determines", h("span", { class: "key dot half" }), "two runs together", h("span", { class: "key ringed" }), "would check or settle")),
      matrix(fixture),
      calibrationProblem(),
      fixture ? h("p", { class: "said" }, splitSentence(fixture)) : state.view?.calibration_problem ? null : h("p", { class: "said" }, "No calibration run is open: efficiency is as logged. Drop a straight-through run, or record one as below."),
      (fixture?.null_space ?? []).map((/** @type {any} */ one) => h("p", { class: "note" }, sentence(one.words)))),
    resistors.filter((/** @type {any} */ one) => one.track?.length).map(resistorSheet),
    bands.length ? bandSheet(bands, resistors.length % 2 === 0) : null,
    fixture ? null : h("section", { class: "plate whole record", key: "record" }, h("h2", null, RECORD.title), h("ol", null,
      RECORD.runs.slice(0, 2).map((run) => h("li", null, h("h3", null, run.name, h("small", null, run.time)), wiringPicture(run.kind), h("p", null, run.does), h("p", { class: "note" }, run.shows))),
      h("li", null, h("h3", null, "Input shorted", h("small", null, "20 s")), wiringPicture("input_shorted"), h("p", null, "A wire across the input terminals, the supply in current limit at low voltage."), h("p", { class: "note" }, "Tells input from output resistance.")))));
}

/** The right column beside the Fixture view. */
export function fixtureSide() {
  const fixture = state.view?.fixture;
  const grade = currentRun()?.grade ?? (fixture ? null : "as_logged");
  const part = pieces(fixture?.sums?.path, "Ω");
  return h("section", { class: "reading", key: "fixture side" },
    h("div", { class: "over" }, h("span", null, "Between sense nodes and converter"), h("span", null, "± is 95 %")),
    fixture ? h("div", { class: "big" }, h("b", null, part.value), h("span", null, `${part.pm === null ? "" : `± ${part.pm}`} ${part.unit}`), h("small", null, "both sides together")) : h("div", { class: "big" }, h("b", null, "–")),
    grade ? h("p", { class: "said" }, `${GRADE[grade][0]}. ${GRADE[grade][1]}`) : null,
    h("h2", null, "What the fixture leaves uncertain"),
    leftUncertain(fixture),
    (fixture?.refused ?? []).map((/** @type {any} */ one) => h("p", { class: "note" }, `${sentence(`${wordsOf(one.quantity)}: ${one.why}`)}${one.run_needed ? ` ${runWords(one.run_needed)} would settle it.` : ""}`)),
    h("h2", null, "Before you short anything"), careBox(CARE_SHORTED), careBox(CARE_FIXTURE),
    h("p", { class: "note" }, "Valid until a plug is moved."));
}

/** @param {any} fixture */
function leftUncertain(fixture) {
  const reading = state.reading;
  const parts = partsOf(reading).filter((one) => !["random", "scatter", "noise"].includes(one.name));
  if (parts.length) return [h("p", { class: "note" }, `Parts of the ± at row ${reading.row}, in points`), partBars(parts)];
  if (!fixture) return h("p", { class: "note" }, "Everything: nothing of the wiring is known.");
  return table(["", ""], [["Input correction", quantity(fixture.correction_in, "Ω")], ["Output correction", quantity(fixture.correction_out, "Ω")], ["Volts ratio", quantity(fixture.voltage_gain_ratio, "")], ["Amperes ratio", quantity(fixture.current_gain_ratio, "")]].filter(([, value]) => value !== "–"), "facts", "Corrections");
}

