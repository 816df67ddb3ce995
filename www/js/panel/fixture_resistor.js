// @ts-check
// Third question of a calibration: is the resistor's value known. And how it warmed up.

import { h, sv } from "../dom.js";
import { pieces, plain, quantity, sentence, shortName, span } from "../format.js";
import { drawTrack } from "../figure/small.js";
import { inputResistorQ, setInputResistorQ, setInputSaid } from "../knobs.js";
import { changed, state } from "../state.js";
import { CARE_SHORTED } from "../text.js";
import { WARM_HELP } from "../text_fixture.js";
import { careBox, numberField, switchRow, table } from "./controls.js";
import { fromRecord, inputOf } from "./fixture_known.js";
import { calibrationInputs } from "./fixture_runs.js";
import { fold, pictureChoice } from "./picks.js";
import { svgButton } from "./vector.js";

/** A resistor with its value beside it. @param {string} words */
function resistorPicture(words) {
  return sv("svg", { viewBox: "0 0 150 60", class: "wires", role: "img", "aria-label": `A load resistor, ${words}` },
    sv("line", { x1: 10, y1: 30, x2: 50, y2: 30 }), sv("rect", { x: 50, y: 22, width: 50, height: 16, class: "box" }), sv("line", { x1: 100, y1: 30, x2: 140, y2: 30 }), sv("text", { x: 75, y: 16, class: words === "?" ? "says" : "value" }, words));
}

/** Which of the resistors are being given a value although none is typed yet. @type {Set<number>} */
const wanted = new Set();

/** @param {any} input @param {number} at */
function resistorRow(input, at) {
  const stated = inputResistorQ(at);
  const known = stated.value !== null || wanted.has(at);
  const report = fromRecord() ? null : (state.view?.fixture?.calibration_resistors ?? []).find((/** @type {any} */ one) => one.input === at);
  const value = pieces(stated.value === null ? null : stated, "Ω");
  return h("div", { class: "group", key: `resistor ${at}` }, h("h4", null, shortName(input.name, 36)),
    pictureChoice({
      name: `resistor ${at}`, label: `Resistor of ${input.name}`, small: true, value: known ? "known" : "unknown",
      set: (choice) => {
        if (choice === "known") wanted.add(at);
        else wanted.delete(at);
        if (choice === "unknown") setInputResistorQ(at, null, null);
        changed();
      },
      options: [
        ["unknown", resistorPicture("?"), "Not known", "Efficiency does not need it."],
        ["known", resistorPicture(value.value === "–" ? "… Ω" : `${value.value} ${value.unit}`), "Known", "Serves the absolute scale of the currents and the load’s leads."],
      ],
    }),
    known ? h("div", { class: "row" }, h("span", null, "Its value, cold", h("span", { class: "quiet" }, " / Ω")), h("span", { class: "pairfields" },
      numberField({ name: `resistor value ${at}`, label: `Resistor of ${input.name} in ohms, cold`, value: stated.value, least: 0, empty: true, place: "Ω", set: (typed) => setInputResistorQ(at, typed, stated.u) }),
      " ± ",
      numberField({ name: `resistor pm ${at}`, label: `Resistor of ${input.name}, 95 % interval in ohms`, value: stated.u === null ? null : Number((stated.u * 1.96).toPrecision(4)), least: 0, empty: true, disabled: stated.value === null, place: "not said", set: (typed) => setInputResistorQ(at, stated.value, typed === null ? null : typed / 1.96) }))) : null,
    known ? switchRow({ label: "Output sense leads on the resistor itself", value: state.settings?.inputs?.[at]?.four_wire ?? false, note: "its value then sets the scale of the amperes", set: (on) => setInputSaid(at, "four_wire", on) }) : null,
    report ? h("p", { class: "note" }, `Seen at the output sense nodes, its leads included: ${quantity(report.cold, "Ω")} cold.`) : null);
}

/** A time constant with its 95 % interval, or which way it is open. @param {any} tau */
function timeConstant(tau) {
  if (!tau) return "–";
  if (tau.value !== null && tau.low !== null && tau.high !== null) return `${span(tau.value)} (${span(tau.low)} to ${span(tau.high)})`;
  if (tau.low !== null) return `longer than ${span(tau.low)}`;
  if (tau.high !== null) return `shorter than ${span(tau.high)}`;
  return "not determined";
}

/** How one resistor warmed up. @param {any} one */
function warmPlate(one) {
  const name = inputOf(one.input)?.name ?? "recorded run";
  const tells = (/** @type {string} */ what) => !one.determined?.length || one.determined.includes(what);
  return h("section", { class: "plate", key: `warm ${one.input}` }, h("h2", null, "Resistor against time", name ? h("small", null, shortName(name, 24)) : null),
    one.track?.length ? h("div", { class: "small mid" }, h("canvas", { role: "img", "aria-label": `The calibration resistor over time as logged and after offsets, gains and warming are taken out. Cold ${quantity(one.cold, "Ω")}, largest drift ${quantity(one.largest_drift, "%")}. The table below has the values.`, draw: (/** @type {HTMLCanvasElement} */ canvas) => drawTrack(canvas, one) })) : null,
    one.track?.length ? svgButton({ what: `resistor-${one.input}`, title: "Calibration resistor against time", lines: [`${name}: resistance in Ω. Hollow: as logged; filled: after offsets, gains and leads are taken out. Cold ${quantity(one.cold, "Ω")}; ± is 95 %.`] }) : null,
    one.heating_warning ? h("div", { class: "bad", role: "note" }, h("div", null, h("p", null, `It warmed up: its value rose by ${quantity(one.largest_drift, "%")}, more than ${plain(one.warn_above, "%", 2)}.`), h("p", { class: "note" }, sentence(one.cure || WARM_HELP)))) : h("p", { class: "note" }, "No warming that matters: efficiency does not rest on its value."),
    table(["", ""], [
      ["Cold, R0", quantity(one.cold, "Ω")], ["As stated", quantity(one.nominal, "Ω")], ["Largest rise", quantity(one.largest_drift, "%")],
      ["Rise per watt", one.per_watt?.value === null ? "–" : !tells("per_watt") ? "not determined: the run is too short for it" : `${quantity(one.per_watt, "%")}/W`], ["Rise per joule", one.per_joule?.value === null || one.per_joule === undefined ? "–" : `${quantity(one.per_joule, "%")}/J`],
      ["Time constant (95 %)", timeConstant(one.time_constant)], ["Falling less rising current", quantity(one.down_minus_up, "Ω")],
    ].filter(([, value]) => value !== "–"), "facts", "The calibration resistor; ± is 95 %"));
}

/** The resistors' plates. @param {any} fixture */
export function resistorPlates(fixture) {
  return (fixture?.calibration_resistors ?? []).map(warmPlate);
}

/** @param {boolean} open @param {number} number */
export function resistorQuestion(open, number) {
  const runs = calibrationInputs().filter(({ input }) => input.role === "straight_through");
  const words = runs.map(({ at }) => inputResistorQ(at)).map((one) => (one.value === null ? "not known" : quantity(one, "Ω")));
  return fold({
    id: "resistor", open, kind: "question plate whole",
    title: [h("span", { class: "ring" }, String(number)), "Is the resistor’s value known?"], aside: runs.length ? words.join(", ") : "no straight-through run yet",
    inside: () => [
      runs.length ? runs.map(({ input, at }) => resistorRow(input, at)) : h("p", { class: "said" }, "A straight-through run has the resistor as its load. Its value may stay unknown: efficiency does not need it."),
      careBox(CARE_SHORTED),
    ],
  });
}
