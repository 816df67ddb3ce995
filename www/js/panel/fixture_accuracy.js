// @ts-check
// How exactly the channels read: one control in front, lines from a reference meter behind it.

import { h } from "../dom.js";
import { count, plain, quantity, sentence } from "../format.js";
import { ask } from "../link.js";
import { knob, turn } from "../knobs.js";
import { changeSettings, changed, overtaken, report, state } from "../state.js";
import { CHANNEL, CHANNEL_UNIT } from "../text.js";
import { choiceRow, numberField, numberRow, select, switchRow, table, wrong } from "./controls.js";

const PATH = "fixture.accuracy";

/** Channels a line can be given for. */
const CHANNELS = ["v_in", "i_in", "v_out_high", "v_out_low", "i_out"];

/** "unknown", "within" or "calibrated". */
export function accuracyNow() {
  const value = knob(PATH, "unknown");
  return typeof value === "string" ? value : "within";
}

/** @param {string} value */
function setAccuracy(value) {
  turn(PATH, value === "within" ? { within: 0.01 } : value, "fixture");
}

/** The one control in front. */
export function accuracyChoice() {
  const now = accuracyNow();
  const share = knob(PATH, null)?.within ?? 0.01;
  return [
    choiceRow({ name: "accuracy", label: "Channels read", value: now, options: [["unknown", "not known"], ["within", "within 1 %"], ["calibrated", "calibrated"]], set: setAccuracy }),
    now === "within" ? numberRow({ name: "within", label: "Every gain lies within ±", unit: "%", value: Number((share * 100).toPrecision(6)), least: 0, most: 20, set: (/** @type {number|null} */ typed) => typed !== null && turn(PATH, { within: typed / 100 }, "fixture") }) : null,
    h("p", { class: "note" }, now === "unknown" ? "Ratios of channels still come from the runs; the scale of volts and amperes is not known, and efficiency does not need it." : now === "within" ? "A data sheet’s limit, anywhere inside it." : "Readings beside a reference meter, below, give each channel its line."),
  ];
}

/** Which channel's line is being typed. */
let channel = "v_in";
/** What was typed and could not be read, by channel. @type {Map<string, {text: string, problem: string, hint: string|null}>} */
const unread = new Map();

/** Reads pairs and uses them; what cannot be read stays with its sentence and changes nothing. @param {string} text @param {string} name of the channel */
async function takeText(text, name) {
  /** @type {[number, number][]} */
  let pairs = [];
  try {
    if (text.trim()) pairs = await ask("pairs", { text });
  } catch (error) {
    if (overtaken(error)) return;
    const failed = /** @type {any} */ (error);
    unread.set(name, { text, problem: failed?.message ?? String(error), hint: failed?.hint ?? null });
    changed();
    return;
  }
  unread.delete(name);
  changeSettings(`line ${name}`, (settings) => {
    settings.fixture.lines[name].pairs = pairs;
    if (pairs.length) settings.fixture.accuracy = "calibrated";
  }, "fixture");
  changed();
}

/** @param {HTMLInputElement} picker */
async function takeFile(picker) {
  const file = picker.files?.[0];
  picker.value = "";
  try {
    if (file) await takeText(await file.text(), channel);
  } catch {
    report({ message: "The file could not be read.", hint: "Open it in an editor and paste the pairs." }, "fixture");
  }
}

/** What the fit made of a channel. @param {string} name */
function lineReport(name) {
  const line = (state.view?.fixture?.channels?.[name] ?? state.view?.fixture?.channels?.v_out)?.line;
  const unit = CHANNEL_UNIT[name];
  if (!line) return null;
  return [table(["", ""], [["Gain", quantity(line.gain, "")], ["Offset", quantity(line.offset, unit)], ["Scatter about the line", plain(line.scatter, unit, 2)], ["Largest distance", plain(line.largest, unit, 2)], ["Correlation of gain and offset", plain(line.correlation, "", 2)], ["Pairs", count(line.n)]].filter(([, value]) => value !== "–"), "facts", "The line"),
    line.bent ? wrong("This channel is not straight: it bends more than its scatter explains.", "Calibrate over the part of the range that is used, or expect more than the stated ± at its ends.") : null];
}

/** Lines from a reference meter. */
export function accuracySheet() {
  const line = knob(`fixture.lines.${channel}`, null);
  const unit = CHANNEL_UNIT[channel];
  const failed = unread.get(channel);
  const text = failed?.text ?? (line?.pairs ?? []).map((/** @type {[number, number]} */ pair) => `${pair[0]}; ${pair[1]}`).join("\n");
  return h("div", { class: "group" },
    accuracyChoice(),
    h("p", { class: "note" }, "Put a reference meter beside a channel, note both at a few values over its range, and give the pairs here."),
    h("div", { class: "row" }, h("span", null, "Channel"), select({ name: "line channel", label: "Channel of the line", value: channel, options: CHANNELS.map((name) => /** @type {[string, string]} */ ([name, `${CHANNEL[name]}${knob(`fixture.lines.${name}`, null)?.pairs?.length ? `: ${knob(`fixture.lines.${name}`).pairs.length} pairs` : ""}`])), set: (value) => {
      channel = value;
      changed();
    } })),
    h("label", { class: "stacked" }, h("span", null, `One pair per line: reference, reading / ${unit}`),
      h("textarea", { class: "field lines", rows: "6", spellcheck: "false", id: "line-pairs", key: `pairs ${channel}`, value: text, "aria-invalid": failed ? "true" : undefined, placeholder: "1.000; 1.002\n5.000; 5.011\n12.00; 12.026", onchange: (/** @type {any} */ event) => takeText(event.target.value, channel) })),
    failed ? wrong(sentence(failed.problem), failed.hint ? sentence(failed.hint) : "The other channels keep their lines.") : null,
    h("div", { class: "acts" }, h("label", { class: "btn filebtn" }, "From a file", h("input", { type: "file", id: "line-file", accept: ".csv,.txt,.tsv,text/plain", "aria-label": "Pairs from a file", onchange: (/** @type {any} */ event) => takeFile(event.target) })), h("button", { class: "btn", disabled: !text, onclick: () => takeText("", channel) }, "Clear this line")),
    lineReport(channel),
    h("h4", null, "The reference meter itself"),
    [/** @type {const} */ (["meter_voltage_u", "Its volts, ± %"]), /** @type {const} */ (["meter_current_u", "Its amperes, ± %"])].map(([key, words]) => numberRow({ name: key, label: words, unit: "95 %", value: Number((knob(`fixture.lines.${key}`, 0) * 196).toPrecision(6)), least: 0, most: 20, set: (/** @type {number|null} */ typed) => typed !== null && turn(`fixture.lines.${key}`, typed / 196, "fixture") })),
    h("div", { class: "row" }, h("span", null, "One reading of the reference", h("span", { class: "quiet" }, ` / ${unit}, ± 95 %`)), numberField({ name: `reference u ${channel}`, label: `Interval of one reference reading of ${CHANNEL[channel]}`, value: line?.reference_u === null || line?.reference_u === undefined ? null : Number((line.reference_u * 1.96).toPrecision(6)), least: 0, empty: true, place: "found", set: (typed) => turn(`fixture.lines.${channel}.reference_u`, typed === null ? null : typed / 1.96, "fixture") })),
    switchRow({ label: "Take the line as it is", value: line?.fixed ?? false, note: "the runs then change nothing about it", set: (value) => turn(`fixture.lines.${channel}.fixed`, value, "fixture") }));
}
