// @ts-check
// Readings of a hand-held meter across one contact, or at the source's or load's own terminals.

import { h } from "../dom.js";
import { plain } from "../format.js";
import { knob } from "../knobs.js";
import { changeSettings } from "../state.js";
import { careBox, numberField, select } from "./controls.js";

/** Where the probes can be. @type {[string, string][]} */
const ACROSS = [
  ["in_high", "in +, contact and lead"], ["in_low", "in −, contact and lead"], ["out_high", "out +, contact and lead"], ["out_low", "out −, contact and lead"],
  ["shared_ground", "shared ground lead"], ["jumper_high", "bridging wire, plus"], ["jumper_low", "bridging wire, minus"], ["source", "source’s own terminals"], ["load", "load’s own terminals"],
];

/** @param {number} at @param {(reading: any) => void} edit @param {string} what */
function change(at, edit, what) {
  changeSettings(`meter ${what} ${at}`, (settings) => edit(settings.fixture.meter[at]), "fixture");
}

/** Fields of one reading. @param {any} one @param {number} at */
function readingRow(one, at) {
  const n = at + 1;
  const logged = one.across === "source" || one.across === "load";
  const millivolts = !logged;
  const factor = millivolts ? 1e3 : 1;
  const unit = millivolts ? "mV" : "V";
  const shown = (/** @type {number|null|undefined} */ value, /** @type {number} */ by) => (value === null || value === undefined ? null : Number((value * by).toPrecision(7)));
  return h("li", { key: `meter ${at}`, class: "meterrow" },
    select({ name: `across ${at}`, label: `Where reading ${n} was taken`, value: one.across, options: ACROSS, set: (value) => change(at, (reading) => Object.assign(reading, { across: value, logged: null }), "across") }),
    h("span", { class: "pairfields" }, numberField({ name: `meter volts ${at}`, label: `Reading ${n} in ${unit}`, value: shown(one.volts, factor), set: (value) => value !== null && change(at, (reading) => Object.assign(reading, { volts: value / factor }), "volts") }), ` ${unit} ± `,
      numberField({ name: `meter volts u ${at}`, label: `95 % interval of reading ${n} in ${unit}`, value: shown(one.volts_u, 1.96 * factor), least: 0, empty: true, place: "usual", set: (value) => change(at, (reading) => Object.assign(reading, { volts_u: value === null ? null : value / 1.96 / factor }), "volts u") })),
    h("span", { class: "pairfields" }, "at ", numberField({ name: `meter amps ${at}`, label: `Current at reading ${n} in amperes`, value: one.amps, set: (value) => value !== null && change(at, (reading) => Object.assign(reading, { amps: value }), "amps") }), " A"),
    logged ? h("span", { class: "pairfields" }, "log read ", numberField({ name: `meter logged ${at}`, label: `What the log read at reading ${n} in volts`, value: one.logged ?? null, empty: true, set: (value) => change(at, (reading) => Object.assign(reading, { logged: value }), "logged") }), " V") : null,
    h("button", { class: "btn icon", "aria-label": `Take reading ${n} out`, onclick: () => changeSettings(`meter out ${at}`, (settings) => settings.fixture.meter.splice(at, 1), "fixture") }, "×"));
}

export function meterSheet() {
  const readings = knob("fixture.meter", []);
  return h("div", { class: "group" },
    h("p", { class: "note" }, "Drive a steady current through the fixture, put the probes on both ends of one contact and its lead, and note the millivolts. One such reading can settle what no run tells apart."),
    readings.length ? h("ul", { class: "meters" }, readings.map(readingRow)) : h("p", { class: "note" }, "No reading is given."),
    h("div", { class: "acts" }, h("button", { class: "btn", onclick: () => changeSettings("meter in", (settings) => settings.fixture.meter.push({ across: "in_high", volts: 0.01, volts_u: null, amps: 1, amps_u: null, logged: null }), "fixture") }, "Add a reading")),
    readings.some((/** @type {any} */ one) => one.volts === 0.01 && one.amps === 1) ? h("p", { class: "note" }, `A new reading starts at ${plain(0.01, "V")}, ${plain(1, "A")}: type over both.`) : null,
    careBox("Probes slip: fuse the source, keep the current no higher than the contact needs to be seen, and let nobody touch a hot contact."));
}
