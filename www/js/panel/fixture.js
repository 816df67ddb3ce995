// @ts-check
// The Fixture view: the answer first, then the three questions that lead to it, then how we know.

import { h } from "../dom.js";
import { pieces, quantity } from "../format.js";
import { state } from "../state.js";
import { CARE_FIXTURE, GRADE } from "../text.js";
import { careBox, table } from "./controls.js";
import { accuracySheet } from "./fixture_accuracy.js";
import { budgetPoint, improveBars, improveSheet, pointChoice, pointWords } from "./fixture_improve.js";
import { meterSheet } from "./fixture_meter.js";
import { acceptanceSheet, checkSheet, covarianceSheet, matrixSheet, residualSheet } from "./fixture_proof.js";
import { recordSheet } from "./fixture_record.js";
import { resistorPlates, resistorQuestion } from "./fixture_resistor.js";
import { gradeOf, resultPlate } from "./fixture_result.js";
import { calibrationInputs, runsQuestion } from "./fixture_runs.js";
import { wiringQuestion } from "./fixture_wiring.js";
import { fold, setOpen } from "./picks.js";
import { planeChoice, planeLine } from "./plane.js";
import { saveCalibration } from "./share.js";

export function fixtureTools() {
  return [
    planeChoice(),
    state.view?.fixture ? h("button", { class: "btn", onclick: saveCalibration }, "Save the calibration") : null,
  ];
}

/** Everything behind the answer, each part opened in place. @param {any} fixture */
function howWeKnow(fixture) {
  const parts = [
    { id: "matrix", title: "What each run determines", inside: () => matrixSheet(fixture) },
    { id: "residuals", title: "Residuals and their likely cause", inside: () => residualSheet(fixture) },
    { id: "acceptance", title: "Straight-through efficiency by current", inside: () => acceptanceSheet(fixture) },
    { id: "improve", title: "What to improve next", inside: improveSheet },
    { id: "accuracy", title: "Channel accuracy and a reference meter", inside: accuracySheet },
    { id: "meter", title: "Meter readings across a contact", inside: meterSheet },
    { id: "checks", title: "Free checks from ordinary runs", inside: () => checkSheet(fixture) },
    { id: "covariance", title: "Parameters and their correlation", inside: () => covarianceSheet(fixture) },
    { id: "record", title: "Calibration record", inside: recordSheet },
  ];
  return fold({
    id: "how", open: false, kind: "question plate whole how", title: "How do we know?",
    aside: "residuals, acceptance, budget, channel accuracy, record",
    inside: () => parts.map((part) => fold({ ...part, open: false, kind: "part" })),
  });
}

export function fixturePanel() {
  const fixture = state.view?.fixture;
  const runs = calibrationInputs().length;
  const asking = !fixture;
  return h("div", { class: state.stale && !state.early ? "sheets calibration dim" : "sheets calibration" },
    resultPlate(),
    wiringQuestion(asking, 1),
    runsQuestion(asking || runs === 0, 2),
    resistorQuestion(false, 3),
    resistorPlates(fixture),
    howWeKnow(fixture));
}

/** The right column beside the Fixture view. */
export function fixtureSide() {
  const fixture = state.view?.fixture;
  const point = budgetPoint();
  const grade = gradeOf(fixture) ?? "as_logged";
  const left = point?.u === null || point?.u === undefined ? null : pieces({ value: 0, u: point.u }, "%").pm;
  return h("section", { class: "reading", key: "fixture side" },
    h("div", { class: "over" }, h("span", null, "What is left uncertain"), h("span", null, "± is 95 %")),
    point ? [
      h("div", { class: "big" }, h("b", null, left === null ? "–" : `± ${left}`), h("span", null, left === null ? "" : "points"), h("small", null, "of efficiency", h("br", null), planeLine())),
      pointChoice() ?? h("p", { class: "note" }, pointWords(point)),
    ] : fixture ? h("p", { class: "note" }, "Open a converter’s run to see what this leaves uncertain at its operating points.") : h("p", { class: "note" }, "Everything: nothing of the wiring is known."),
    fixture ? table(["", ""], [["R in", quantity(fixture.correction_in, "Ω")], ["R out", quantity(fixture.correction_out, "Ω")]], "facts", "Corrections") : null,
    h("p", { class: "grade note" }, h("b", null, `${GRADE[grade][0]}. `), GRADE[grade][1]),
    point ? [h("h2", null, "What to improve next", h("small", null, "points")), improveBars(point, 5),
      fixture?.budget?.sentence ? h("p", { class: "note" }, fixture.budget.sentence) : null,
      h("button", { class: "btn", onclick: () => {
        setOpen("how", true);
        setOpen("improve", true);
        // The part is made with the next drawing.
        setTimeout(() => document.querySelector("#fold-improve > summary")?.scrollIntoView({ block: "start" }), 120);
      } }, "How do we know?")] : null,
    h("h2", null, "Take care"), careBox(CARE_FIXTURE),
    h("p", { class: "note" }, "Valid until a plug is moved."));
}
