// @ts-check
// The Fixture card: how it is wired, what is given, what comes out.

import { h } from "../dom.js";
import { quantity, sentence } from "../format.js";
import { sensePicture } from "../figure/wiring.js";
import { currentRun, set, state } from "../state.js";
import { CARE_FIXTURE, CARE_SHORTED, CHANNEL, GRADE, WIRING_HELP, wordsOf } from "../text.js";
import { KNOB, hasKnob, knob, readQ, turn, turnQ } from "../knobs.js";
import { careBox, choiceRow, numberField, numberRow, switchRow, table, wrong } from "./controls.js";

/** One sentence about how the sum divides. @param {any} fixture */
export function splitSentence(fixture) {
  const by = fixture?.split?.by;
  const path = quantity(fixture?.sums?.path, "Ω");
  if (by === "measured") return "How the resistance divides between input and output side is measured.";
  if (by === "given") return "Both corrections are as you gave them.";
  if (by === "equal_contacts") return `The runs give the sum only, ${path}. How it divides is assumed: contacts alike, ${quantity(fixture.split.each_contact, "Ω")} each. The ± carries that. A run with the input shorted settles it.`;
  return `The runs give the sum only, ${path}. How it divides is not assumed. A run with the input shorted settles it.`;
}

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
      numberField({ name: path, label: `${label} in milliohms`, value: q.value === null ? null : q.value * 1e3, empty: true, place: "none", set: (value) => turnQ(path, value === null ? null : value / 1e3, q.u, "fixture") }),
      " ± ",
      numberField({ name: `${path} pm`, label: `${label}, 95 % interval in milliohms`, value: q.u === null ? null : Number((q.u * 1960).toPrecision(4)), least: 0, empty: true, disabled: q.value === null, place: "0", set: (value) => turnQ(path, q.value, value === null ? null : value / 1960, "fixture") }))),
  note ? h("p", { class: "note" }, note) : null);
}

/** @param {string} path @param {string} label */
function shunt(path, label) {
  if (!hasKnob(path)) return null;
  return [ohms(`${path}.resistance`, label),
    knob(`${path}.inside`) !== undefined ? choiceRow({ name: path, label: `${label} lies`, value: knob(`${path}.inside`) ? "inside" : "outside", options: [["inside", "inside"], ["outside", "outside"]], set: (/** @type {string} */ value) => turn(`${path}.inside`, value === "inside", "fixture") }) : null];
}

function inside() {
  const fixture = state.view?.fixture;
  const grade = GRADE[currentRun()?.grade];
  const problem = state.view?.calibration_problem;
  return [
    problem ? wrong(sentence(problem), "Efficiency stays as logged until then.") : null,
    fixture ? h("p", { class: "said" }, splitSentence(fixture)) : problem ? null : h("p", { class: "said" }, "Nothing is taken out yet. Record a straight-through run: a wire in place of the converter, a resistor as load."),
    grade ? h("p", { class: "grade note" }, h("b", null, `${grade[0]}. `), grade[1]) : null,
    fixture ? table(["", ""], [
      ["High side, P to Q", quantity(fixture.sums?.high_side, "Ω")],
      ["Low side, N to G", quantity(fixture.sums?.low_side, "Ω")],
      ["Both", quantity(fixture.sums?.path, "Ω")],
      ["Input correction", quantity(fixture.correction_in, "Ω")],
      ["Output correction", quantity(fixture.correction_out, "Ω")],
      ["Currents, in to out", quantity(fixture.current_gain_ratio, "")],
      ["Volts, in to out", quantity(fixture.voltage_gain_ratio, "")],
    ].filter(([, value]) => value !== "–"), "facts", "What the calibration gives; ± is 95 %") : null,
    h("p", { class: "note" }, "± is 95 %; sums as measured, bridging wires included."),
    (fixture?.refused ?? []).map((/** @type {any} */ one) => h("p", { class: "note" }, sentence(`${wordsOf(one.quantity)}: ${one.why}`))),
    h("button", { class: "btn", onclick: () => set({ tab: "fixture" }) }, "See what each run determines"),
    h("hr", null),
    ["inputSense", "outputSense"].map((name) => {
      const path = /** @type {any} */ (KNOB)[name];
      if (!hasKnob(path)) return null;
      return [choiceRow({ name, label: name === "inputSense" ? "Input sense nodes" : "Output sense nodes", value: knob(path), options: [["far", "far side"], ["near", "near"]], set: (/** @type {string} */ value) => turn(path, value, "fixture") }), sensePicture(knob(path) === "near", name === "inputSense" ? "P" : "Q")];
    }),
    h("details", { key: "sides" }, h("summary", null, "Which side is which?"), h("p", { class: "note" }, h("b", null, "Near. "), WIRING_HELP.near), h("p", { class: "note" }, h("b", null, "Far. "), WIRING_HELP.far)),
    h("details", { key: "more" }, h("summary", null, "Shunts, bridging wires, contacts"),
      h("div", { class: "group" }, shunt(KNOB.inputShunt, "Input shunt"), shunt(KNOB.outputShunt, "Output shunt"),
        hasKnob(KNOB.jumper) ? ohms(KNOB.jumper, "Each bridging wire") : null,
        hasKnob(KNOB.contacts) ? switchRow({ label: "Take contacts as alike", value: knob(KNOB.contacts) !== "separate", note: "where runs give the sum only", set: (value) => turn(KNOB.contacts, value ? "auto" : "separate", "fixture") }) : null,
        hasKnob(KNOB.sharedGround) ? switchRow({ label: "One ground lead for both sides", value: knob(KNOB.sharedGround), set: (value) => turn(KNOB.sharedGround, value, "fixture") }) : null,
        hasKnob(KNOB.commonPositive) ? switchRow({ label: "Converter with common plus", value: knob(KNOB.commonPositive), set: (value) => turn(KNOB.commonPositive, value, "fixture") }) : null)),
    hasKnob(KNOB.channels) ? h("details", { key: "accuracy" }, h("summary", null, "Channel accuracy, from its data sheet"),
      h("p", { class: "note" }, "Gain as ± % at 95 %. Left empty, current gains count as not known, and the answer stays below settled."),
      ["v_in", "i_in", "v_out_high", "v_out_low", "i_out"].map((channel) => {
        const path = `${KNOB.channels}.${channel}.gain`;
        const value = knob(path);
        return value === undefined ? null : numberRow({ name: path, label: CHANNEL[channel], unit: "± %", value: value === null ? null : Number((value * 196).toPrecision(4)), least: 0, most: 20, empty: true, place: "not said", set: (/** @type {number|null} */ typed) => turn(path, typed === null ? null : typed / 196, "fixture") });
      })) : null,
    hasKnob(KNOB.givenIn) ? h("details", { key: "given" }, h("summary", null, "Give the corrections directly"),
      h("p", { class: "note" }, "Without calibration runs: resistance between the sense nodes and the converter on each side, with its ±."),
      ohms(KNOB.givenIn, "Input side"), ohms(KNOB.givenOut, "Output side")) : null,
    careBox(CARE_FIXTURE), careBox(CARE_SHORTED),
  ];
}
