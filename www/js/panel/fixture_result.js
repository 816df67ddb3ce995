// @ts-check
// The calibration's answer in plain words: what lies in the way, how sure it is, what the runs cannot
// tell, what that costs, and the one run that would settle it.

import { h } from "../dom.js";
import { counted, pieces, plain, quantity, sentence, shortName } from "../format.js";
import { drawFixture } from "../figure/schematic.js";
import { currentRun, state } from "../state.js";
import { CARE_FIXTURE, GRADE } from "../text.js";
import { LIT, runText, unknownWords } from "../text_fixture.js";
import { careBox, table, wrong } from "./controls.js";
import { fromRecord, litByAll, settlingRun, statesIn } from "./fixture_known.js";
import { howTo } from "./fixture_runs.js";
import { wiresNow, wiringWords } from "./fixture_wiring.js";
import { setOpen } from "./picks.js";
import { planeLine } from "./plane.js";
import { svgButton } from "./vector.js";

/** Grade of the calibration: that of the run in front. @param {any} fixture */
export function gradeOf(fixture) {
  return currentRun()?.grade ?? fixture?.grade ?? null;
}

/** One sentence about how the sum divides. @param {any} fixture */
export function splitSentence(fixture) {
  if (fixture?.split?.sentence) return fixture.split.sentence;
  if (fixture?.split?.by === "given") return "Both corrections are as you gave them.";
  const run = fixture?.split?.settled || fixture?.split?.by === "measured" ? settlingRun() : null;
  const name = run ? state.view?.inputs?.[run.input]?.name : null;
  if (run && name) return `Settled: ${runText(run.kind)?.name.toLowerCase() ?? run.kind} (${shortName(name, 36)}) fixes how the resistance divides between input and output side.`;
  if (fixture?.split?.by === "measured" && fromRecord()) return "Settled: the record’s runs measured how the resistance divides between input and output side.";
  if (fixture?.split?.by === "measured") return "How the resistance divides between input and output side is measured.";
  return "How the resistance divides between input and output side is not known.";
}

/** The large schematic with what is known lit. @param {any} fixture */
function schematic(fixture) {
  const wires = wiresNow();
  const value = (/** @type {any} */ q) => (q?.value === null || q?.value === undefined ? "not known alone" : quantity(q, "Ω"));
  const [rIn, rOut] = [value(fixture?.correction_in), value(fixture?.correction_out)];
  const shared = fixture?.circuit?.segments?.find((/** @type {any} */ one) => one.name === "shared_ground")?.resistance;
  const path = fixture?.sums?.path?.value ? `both sides as measured, bridging wires included: ${quantity(fixture.sums.path, "Ω")}` : "";
  return drawFixture(wires, {
    big: true, lit: fixture ? litByAll() : () => "unknown", rIn: fixture ? rIn : undefined, rOut: fixture ? rOut : undefined, rShared: shared?.value ? quantity(shared, "Ω") : undefined, foot: path || undefined,
    words: `Schematic. Between input sense nodes and converter: ${rIn}. Between converter and output sense nodes: ${rOut}. ${path}`,
  });
}

/** What the outlines of the pieces mean. @param {any} fixture */
function litKeys(fixture) {
  if (!fixture) return null;
  return statesIn(litByAll(), wiresNow().grounds === "shared").map((how) => [h("span", { class: `key ${how}` }), LIT[how][0]]);
}

/** What an assumed split costs at the user's own operating points. @param {any} fixture */
function splitCost(fixture) {
  const points = (fixture?.budget?.points ?? []).filter((/** @type {any} */ point) => point.split_shift);
  if (!points.length || fixture.split?.settled) return null;
  return [h("p", { class: "note" }, "What the open split costs at your own operating points: how far efficiency moves if it divides otherwise by what is assumed (95 %)."),
    table(["run", "V in", "A out", "efficiency", "moves by / points"], points.map((/** @type {any} */ point) => [point.run, plain(point.v_in, "V"), plain(point.i_out, "A", 3), quantity({ value: point.efficiency, u: point.u }, "%"), `± ${pieces({ value: 0, u: Math.abs(point.split_shift) }, "%").pm}`]), "facts", "Cost of the split")];
}

/** What was asked and cannot be answered, each with the run that would. @param {any} fixture @param {string|null} shown run that is explained already */
function refusals(fixture, shown) {
  return (fixture?.refused ?? []).filter((/** @type {any} */ one) => one.quantity !== "division").map((/** @type {any} */ one) => h("div", { class: "refusal", key: `refused ${one.quantity}` },
    h("p", null, h("b", null, `${sentence(unknownWords(one.quantity)).replace(/\.$/, "")}: `), sentence(one.why), one.run_needed ? ` A run “${runText(one.run_needed)?.name.toLowerCase() ?? one.run_needed}” settles it.` : ""),
    one.run_needed && one.run_needed !== shown && runText(one.run_needed) ? h("details", { key: `settle ${one.quantity}` }, h("summary", null, "How to make that run"), howTo(one.run_needed)) : null));
}

/** The corrections and ratios. @param {any} fixture */
function answers(fixture) {
  const rows = [
    ["R in, sense nodes to converter", quantity(fixture.correction_in, "Ω")],
    ["R out, converter to sense nodes", quantity(fixture.correction_out, "Ω")],
    ["Ground lead, shared", quantity(fixture.circuit?.segments?.find((/** @type {any} */ one) => one.name === "shared_ground")?.resistance, "Ω")],
    ["High side, P to Q, as measured", quantity(fixture.sums?.high_side, "Ω")],
    ["Low side, N to G, as measured", quantity(fixture.sums?.low_side, "Ω")],
    ["Both sides, as measured", quantity(fixture.sums?.path, "Ω")],
    ["Currents, input by output reading", quantity(fixture.current_gain_ratio, "")],
    ["Volts, input by output reading", quantity(fixture.voltage_gain_ratio, "")],
    ["Source’s leads", quantity(fixture.outside?.source_side, "Ω")],
    ["Load’s leads", quantity(fixture.outside?.load_side, "Ω")],
  ];
  return table(["", ""], rows.filter(([, value]) => value !== "–"), "facts", "What the calibration gives; ± is 95 %");
}

/** Why the calibration runs gave nothing. */
export function calibrationProblem() {
  const problem = state.view?.calibration_problem;
  return problem ? wrong(sentence(problem), "Efficiency stays as logged until then. Below: say what each run is, or take one out in the Log card.") : null;
}

/** The first plate: the answer. */
export function resultPlate() {
  const fixture = state.view?.fixture;
  const grade = GRADE[gradeOf(fixture) ?? "as_logged"];
  const needed = fixture?.split?.settled ? null : fixture?.split?.run_needed ?? (fixture?.refused ?? []).find((/** @type {any} */ one) => one.quantity === "division")?.run_needed ?? null;
  return h("section", { class: "plate whole result", key: "result" },
    h("h2", null, "What lies between the sense nodes and the converter", h("small", null, litKeys(fixture))),
    h("div", { class: "bigframe", tabindex: "0", role: "group", "aria-label": "Schematic of the fixture" }, schematic(fixture)),
    h("div", { class: "figfoot" }, svgButton({ what: "fixture", title: "What lies between the sense nodes and the converter", lines: [`Resistances in Ω, ± is 95 %. Efficiency is quoted ${planeLine()}.`, wiringWords(wiresNow())] })),
    calibrationProblem(),
    fixture ? [
      h("p", { class: "said" }, h("b", { class: "gradeword" }, `${grade[0]}. `), grade[1]),
      fixture.inherited ? h("p", { class: "said" }, sentence(fixture.inherited)) : null,
      fixture.plane_problem ? wrong(sentence(fixture.plane_problem)) : null,
      h("div", { class: "columns" }, h("div", null, answers(fixture), h("p", { class: "note" }, "± is 95 %. As measured: bridging wires included.")),
        h("div", { class: "group" }, h("p", { class: fixture.split?.settled ? "said" : "said open", role: "status", id: "split-sentence" }, sentence(splitSentence(fixture))), refusals(fixture, needed))),
      needed ? h("div", { class: "settle", key: "settle" }, splitCost(fixture), h("h3", null, "The run that settles it"), howTo(needed)) : null,
      fixture.notes?.length ? h("details", { key: "notes" }, h("summary", null, `${counted(fixture.notes.length, "remark")} of the fit`), h("div", { class: "group" }, fixture.notes.map((/** @type {string} */ note) => h("p", { class: "note" }, sentence(note))))) : null,
    ] : state.view?.calibration_problem ? null : [
      h("p", { class: "said" }, "Nothing is taken out yet: efficiency is as logged. Answer three questions and this fills in. No number is asked for that a run can measure."),
      h("div", { class: "acts" }, h("button", { class: "btn", onclick: () => setOpen("runs", true) }, "Which runs to record")),
      careBox(CARE_FIXTURE),
    ]);
}
