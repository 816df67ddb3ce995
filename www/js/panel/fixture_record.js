// @ts-check
// The calibration as a record: saved, dropped back in, inherited by the next board, checked by a later run.

import { h } from "../dom.js";
import { chance, count, fixed, pieces, plain, quantity, sentence } from "../format.js";
import { knob, turn } from "../knobs.js";
import { changeSettings, state } from "../state.js";
import { unitOf, unknownWords } from "../text_fixture.js";
import { choiceRow, table, wrong } from "./controls.js";
import { bandTable } from "./fixture_proof.js";
import { calibrationInputs } from "./fixture_runs.js";
import { chooseFiles } from "./open.js";
import { saveCalibration } from "./share.js";

/** @type {Record<string, string>} */
const VERDICT = { same: "The fixture is still the same.", changed: "The fixture has changed.", cannot_tell: "These runs cannot tell whether the fixture is still the same." };

/** Whether the fixture is still what it was. @param {any} check */
function checkResult(check) {
  if (!check) return null;
  const parameters = check.parameters ?? [];
  return h("div", { class: "group", role: "status", id: "record-check" },
    h("p", { class: check.verdict === "changed" ? "said open" : "said" }, h("b", null, VERDICT[check.verdict] ?? check.verdict), " ", check.words && !check.words.startsWith(VERDICT[check.verdict] ?? "-") ? sentence(check.words) : ""),
    check.p !== null && check.p !== undefined ? h("p", { class: "note" }, `Chance of differences at least this large without any change: ${chance(check.p)} (χ² ${fixed(check.chi2, 1)} on ${count(check.degrees)}).`) : null,
    parameters.length ? table(["what", "recorded", "now", "difference", "in u", "moves efficiency by"], parameters.map((/** @type {any} */ one) => [unknownWords(one.name), quantity(one.recorded, unitOf(one.name)), quantity(one.now, unitOf(one.name)), quantity(one.difference, unitOf(one.name)), fixed(one.z, 1), one.points === null ? "–" : `${pieces({ value: one.points, u: null }, "points").value} points`]), "facts", "The record against the runs at hand") : null,
    check.acceptance?.length ? [h("h4", null, "The check’s straight-through runs, corrected by the record"), bandTable(check.acceptance)] : null);
}

export function recordSheet() {
  const view = state.view;
  const record = knob("calibration", null);
  const runs = calibrationInputs().length;
  return h("div", { class: "group" },
    h("p", null, "A calibration is kept as a small file: values, the whole covariance and what they rest on. Drop it on this page, with the next board’s logs or before them, and it is used there."),
    h("div", { class: "acts" },
      h("button", { class: "btn", disabled: !view?.fixture, onclick: saveCalibration, id: "save-record" }, "Save the record"),
      h("button", { class: "btn", onclick: chooseFiles }, "Drop or choose a record"),
      record ? h("button", { class: "btn", onclick: () => changeSettings("calibration", (settings) => Object.assign(settings, { calibration: null }), "fixture") }, "Put the record away") : null),
    view?.fixture ? null : h("p", { class: "note" }, "Nothing to save yet: no calibration."),
    view?.fixture?.inherited ? h("p", { class: "said", id: "inherited" }, sentence(view.fixture.inherited)) : record ? h("p", { class: "note" }, runs ? "A record is open beside the runs at hand." : "A record is open.") : null,
    record && view?.calibration_problem ? wrong(sentence(view.calibration_problem), "Choose the file that “Save the record” wrote, as it was written.") : null,
    record && runs ? [
      choiceRow({ name: "calibration use", label: "The runs at hand", value: knob("calibration_use", "without_runs"), options: [["without_runs", "replace the record"], ["checked_by_runs", "check the record"]], set: (/** @type {string} */ value) => turn("calibration_use", value, "fixture") }),
      h("p", { class: "note" }, "To check: record a straight-through run, or any calibration run, with the fixture as it is now."),
    ] : record ? h("p", { class: "note" }, "Is the fixture still the same? Record a straight-through run and drop it here; then choose “check the record”.") : null,
    checkResult(view?.fixture?.checks?.record),
    h("p", { class: "note" }, "Valid until a plug is moved or a lead is soldered anew."),
    view?.fixture?.chi2_reduced !== null && view?.fixture?.chi2_reduced !== undefined ? h("p", { class: "note" }, `Scatter about the fit by what noise explains: χ² ${plain(view.fixture.chi2_reduced, "", 3)}.`) : null);
}
