// @ts-check
// First question of a calibration: which picture looks like your wires.

import { h } from "../dom.js";
import { drawFixture } from "../figure/schematic.js";
import { KNOB, hasKnob, knob, turn } from "../knobs.js";
import { changeSettings, set, state, writePath } from "../state.js";
import { WIRING_HELP } from "../text.js";
import { fold, pictureChoice } from "./picks.js";

/** @typedef {import("../figure/schematic.js").Wires} Wires */

/** How the output voltage was logged: one difference or two nodes. */
function outputLogged() {
  const roles = (state.view?.inputs ?? []).flatMap((/** @type {any} */ input) => (input.understood?.columns ?? []).map((/** @type {any} */ column) => column.role));
  if (roles.includes("v_out_high") || roles.includes("v_out_low")) return "nodes";
  return roles.includes("v_out") ? "one" : null;
}

/** The wiring as it is set now. @returns {Wires} */
export function wiresNow() {
  const low = (/** @type {string} */ path) => knob(`${path}.low_side`, false);
  return {
    grounds: knob(KNOB.sharedGround, false) ? "shared" : knob(KNOB.commonPositive, false) ? "common_positive" : "separate",
    inputSense: knob(KNOB.inputSense, "far"), outputSense: knob(KNOB.outputSense, "far"),
    inputShunt: { inside: knob(`${KNOB.inputShunt}.inside`, true), low: low(KNOB.inputShunt) },
    outputShunt: { inside: knob(`${KNOB.outputShunt}.inside`, true), low: low(KNOB.outputShunt) },
    output: outputLogged() === "one" ? "one" : "nodes",
  };
}

/** The wiring in one line, the two sides together where they are alike. @param {Wires} wires */
export function wiringWords(wires) {
  const grounds = { separate: "four leads", shared: "one shared ground lead", common_positive: "common plus" }[wires.grounds];
  const sense = (/** @type {string} */ where) => (where === "near" ? "near the converter" : "on the far side of the plugs");
  const shunt = (/** @type {{inside: boolean, low: boolean}} */ one) => `${one.inside ? "inside" : "outside"}, ${one.low ? "minus" : "plus"} lead`;
  const both = (/** @type {string} */ what, /** @type {string} */ first, /** @type {string} */ second) => (first === second ? `${what} ${first}` : `${what} ${first} at the input, ${second} at the output`);
  return [grounds, both("sense nodes", sense(wires.inputSense), sense(wires.outputSense)), both("shunts", shunt(wires.inputShunt), shunt(wires.outputShunt))].join("; ");
}

/** @param {Wires} wires @param {Partial<Wires>} other @param {string} words @param {"in"|"out"} [crop] */
function picture(wires, other, words, crop) {
  return drawFixture({ ...wires, ...other }, { words, crop });
}

/** @param {string} grounds */
function setGrounds(grounds) {
  changeSettings("grounds", (settings) => {
    writePath(settings, KNOB.sharedGround, grounds === "shared");
    writePath(settings, KNOB.commonPositive, grounds === "common_positive");
  }, "fixture");
}

/** @param {Wires} wires */
function groundsChoice(wires) {
  return pictureChoice({
    name: "grounds", label: "How the converter’s terminals are wired", value: wires.grounds, set: setGrounds,
    options: [
      ["separate", picture(wires, { grounds: "separate" }, "Four leads: plus and minus at the input, plus and minus at the output."), "Four leads", "Input and output have a minus lead each."],
      ["shared", picture(wires, { grounds: "shared" }, "Three leads: both returns join, and one ground lead goes to the converter."), "One shared ground lead", "Both returns join before the converter."],
      ["common_positive", picture(wires, { grounds: "common_positive" }, "The plus of the input is the plus of the load; the output’s minus sits at volts."), "Common plus", "The load’s plus is the input’s plus: a low-side LED driver."],
    ],
  });
}

/** @param {Wires} wires @param {boolean} input */
function senseChoice(wires, input) {
  const key = input ? "inputSense" : "outputSense";
  const side = input ? "in" : "out";
  const [name, path] = [input ? "Input sense nodes, P and G" : "Output sense nodes, Q and N", input ? KNOB.inputSense : KNOB.outputSense];
  if (!hasKnob(path)) return null;
  return h("div", { class: "group", key: path }, h("h4", null, name),
    pictureChoice({
      name: path, label: name, small: true, value: wires[key], set: (value) => turn(path, value, "fixture"),
      options: [
        ["far", picture(wires, { [key]: "far" }, "The plugs lie between sense nodes and converter.", side), "Far side of the plugs"],
        ["near", picture(wires, { [key]: "near" }, "The sense nodes lie between plugs and converter.", side), "Near the converter"],
      ],
    }));
}

/** @param {Wires} wires @param {boolean} input */
function shuntChoice(wires, input) {
  const key = input ? "inputShunt" : "outputShunt";
  const path = input ? KNOB.inputShunt : KNOB.outputShunt;
  const name = input ? "Input shunt" : "Output shunt";
  const now = wires[key];
  const hasSide = hasKnob(`${path}.low_side`);
  const sides = hasSide ? [false, true] : [now.low];
  return h("div", { class: "group", key: path }, h("h4", null, name),
    pictureChoice({
      name: path, label: name, small: true, value: `${now.inside ? "inside" : "outside"} ${now.low ? "low" : "high"}`,
      set: (value) => changeSettings(path, (settings) => {
        const [where, side] = value.split(" ");
        writePath(settings, `${path}.inside`, where === "inside");
        if (hasSide) writePath(settings, `${path}.low_side`, side === "low");
      }, "fixture"),
      options: [true, false].flatMap((inside) => sides.map((low) => /** @type {[string, SVGElement, string]} */ ([
        `${inside ? "inside" : "outside"} ${low ? "low" : "high"}`,
        picture(wires, { [key]: { inside, low } }, `The shunt lies ${inside ? "between sense node and converter" : "outside the sense nodes"}, in the ${low ? "minus" : "plus"} lead.`, input ? "in" : "out"),
        `${inside ? "Inside" : "Outside"}, ${low ? "minus" : "plus"} lead`]))),
    }));
}

/** How the output voltage is logged: found in the log, changed by naming its columns. @param {Wires} wires */
function outputChoice(wires) {
  const logged = outputLogged();
  return h("div", { class: "group", key: "output" }, h("h4", null, "Output voltage"),
    h("div", { class: "picks small-picks found" }, [/** @type {const} */ (["nodes", "Two nodes, each against 0 V"]), /** @type {const} */ (["one", "One reading across"])].map(([value, words]) => h("div", { class: value === wires.output ? "pick chosen" : "pick other" },
      h("span", { class: "face" }, picture(wires, { output: value }, words, "out"), h("b", null, words), h("small", null, value === logged ? "found in the log" : ""))))),
    h("p", { class: "note" }, "Told by the columns of the log. ", h("button", { class: "btn bare", onclick: () => set({ card: "channels", chainShown: true }) }, "Name columns otherwise")));
}

/** @param {boolean} open @param {number} number */
export function wiringQuestion(open, number) {
  const wires = wiresNow();
  return fold({
    id: "wires", open, kind: "question plate whole",
    title: [h("span", { class: "ring" }, String(number)), "Which picture looks like your wires?"], aside: wiringWords(wires),
    inside: () => [
      groundsChoice(wires),
      h("div", { class: "pair" }, senseChoice(wires, true), senseChoice(wires, false)),
      h("p", { class: "note" }, h("b", null, "Far. "), WIRING_HELP.far, " ", h("b", null, "Near. "), WIRING_HELP.near),
      h("div", { class: "pair" }, shuntChoice(wires, true), shuntChoice(wires, false)),
      outputChoice(wires),
    ],
  });
}
