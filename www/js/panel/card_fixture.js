// @ts-check
// The Fixture card: what comes out, where efficiency is quoted, and what can be given without any run.

import { h } from "../dom.js";
import { quantity, sentence } from "../format.js";
import { KNOB, hasKnob, knob, readQ, turn, turnQ } from "../knobs.js";
import { currentRun, set, state } from "../state.js";
import { CARE_FIXTURE, CHANNEL, GRADE } from "../text.js";
import { PLANES } from "../text_fixture.js";
import { careBox, numberField, numberRow, switchRow, table, wrong } from "./controls.js";
import { accuracyChoice } from "./fixture_accuracy.js";
import { splitSentence } from "./fixture_result.js";
import { wiresNow, wiringWords } from "./fixture_wiring.js";
import { planeChoice } from "./plane.js";

export function fixtureCard() {
  const fixture = state.view?.fixture;
  const grade = currentRun()?.grade;
  return {
    aside: fixture ? (GRADE[grade]?.[0] ?? (fixture.basis === "given" ? "given" : "fitted")).toLowerCase() : state.view?.calibration_problem ? "failed" : "not calibrated",
    sub: state.view?.calibration_problem ? "The calibration could not be fitted; open for the reason." : fixture ? `in ${quantity(fixture.correction_in, "Ω")}, out ${quantity(fixture.correction_out, "Ω")}` : "Drop a straight-through run and it is recognised.",
    inside,
  };
}

/** @param {string} path @param {string} label @param {string} [note] */
function ohms(path, label, note) {
  const q = readQ(path);
  return h("div", { class: "group" }, h("div", { class: "row" }, h("span", null, label, h("span", { class: "quiet" }, " / mΩ")),
    h("span", { class: "pairfields" },
      numberField({ name: path, label: `${label} in milliohms`, value: q.value === null ? null : Number((q.value * 1e3).toPrecision(7)), empty: true, place: "none", set: (value) => turnQ(path, value === null ? null : value / 1e3, q.u, "fixture") }),
      " ± ",
      numberField({ name: `${path} pm`, label: `${label}, 95 % interval in milliohms`, value: q.u === null ? null : Number((q.u * 1960).toPrecision(4)), least: 0, empty: true, disabled: q.value === null, place: "not said", set: (value) => turnQ(path, q.value, value === null ? null : value / 1960, "fixture") }))),
  note ? h("p", { class: "note" }, note) : null);
}

/** Channels whose accuracy is known one by one. */
function ownAccuracies() {
  return h("details", { key: "accuracy" }, h("summary", null, "Channels one by one"),
    h("div", { class: "group" }, h("p", { class: "note" }, "Gain as ± % at 95 %. What is said here goes before the control above."),
      ["v_in", "i_in", "v_out_high", "v_out_low", "i_out"].map((channel) => {
        const path = `${KNOB.channels}.${channel}.gain`;
        const value = knob(path);
        return value === undefined ? null : numberRow({ name: path, label: CHANNEL[channel], unit: "± %", value: value === null ? null : Number((value * 196).toPrecision(4)), least: 0, most: 20, empty: true, place: "not said", set: (/** @type {number|null} */ typed) => turn(path, typed === null ? null : typed / 196, "fixture") });
      })));
}

function inside() {
  const fixture = state.view?.fixture;
  const grade = GRADE[currentRun()?.grade];
  const problem = state.view?.calibration_problem;
  return [
    problem ? wrong(sentence(problem), "Efficiency stays as logged until then.") : null,
    fixture ? h("p", { class: "said" }, sentence(splitSentence(fixture))) : problem ? null : h("p", { class: "said" }, "Nothing is taken out yet. Record a straight-through run: a wire in place of the converter, a resistor as load."),
    grade ? h("p", { class: "grade note" }, h("b", null, `${grade[0]}. `), grade[1]) : null,
    fixture ? table(["", ""], [["Both sides, as measured", quantity(fixture.sums?.path, "Ω")], ["R in", quantity(fixture.correction_in, "Ω")], ["R out", quantity(fixture.correction_out, "Ω")]].filter(([, value]) => value !== "–"), "facts", "What the calibration gives; ± is 95 %") : null,
    h("div", { class: "acts" }, h("button", { class: "btn", onclick: () => set({ tab: "fixture", chainShown: false }) }, fixture ? "Open the calibration" : "Calibrate: three questions")),
    h("hr", null),
    planeChoice() ? h("div", { class: "row" }, h("span", null, "Efficiency is quoted"), planeChoice()) : null,
    h("p", { class: "note" }, PLANES.find(([code]) => code === knob("fixture.plane", "converter"))?.[2]),
    fixture?.plane_problem ? wrong(sentence(fixture.plane_problem)) : null,
    hasKnob("fixture.accuracy") ? h("div", { class: "group" }, h("h4", null, "Accuracy of the channels"), accuracyChoice()) : null,
    hasKnob(KNOB.channels) ? ownAccuracies() : null,
    h("details", { key: "more" }, h("summary", null, "Shunts, bridging wires, contacts"),
      h("div", { class: "group" }, h("p", { class: "note" }, `Wired as: ${wiringWords(wiresNow())}. Change it by picture in the Fixture view.`),
        ohms(`${KNOB.inputShunt}.resistance`, "Input shunt"), ohms(`${KNOB.outputShunt}.resistance`, "Output shunt"),
        hasKnob(KNOB.jumper) ? ohms(KNOB.jumper, "Each bridging wire") : null,
        hasKnob(KNOB.contacts) ? switchRow({ label: "Take contacts as alike", value: knob(KNOB.contacts) !== "separate", note: "where runs give the sum only", set: (value) => turn(KNOB.contacts, value ? "auto" : "separate", "fixture") }) : null)),
    hasKnob(KNOB.givenIn) ? h("details", { key: "given" }, h("summary", null, "Give the corrections directly"),
      h("div", { class: "group" }, h("p", { class: "note" }, "Without calibration runs: resistance between the sense nodes and the converter on each side, with its ±. Without a ±, one is assumed and said."),
        ohms(KNOB.givenIn, "Input side"), ohms(KNOB.givenOut, "Output side"))) : null,
    careBox(CARE_FIXTURE),
  ];
}
