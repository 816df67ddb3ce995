// @ts-check
// The smaller cards: Channels, Alignment, Operating points.

import { h } from "../dom.js";
import { counted, pieces, plain, quantity, sentence, shortName, span } from "../format.js";
import { currentRun, set, state } from "../state.js";
import { CHANNEL, CHANNEL_UNIT, COLUMN_ROLES, GRADE } from "../text.js";
import { KNOB, hasKnob, isReversed, knob, rowPeriod, setColumnRole, setColumnUnit, setReversed, setRowPeriod, turn } from "../knobs.js";
import { choice, numberRow, select, switchRow, table, wrong } from "./controls.js";
import { chosenInput } from "./card_log.js";
import { planeLine } from "./plane.js";

export function channelsCard() {
  const run = currentRun();
  const at = run?.parts?.[0]?.input ?? 0;
  const columns = state.view?.inputs?.[at]?.understood?.columns ?? [];
  const used = columns.filter((/** @type {any} */ column) => !["ignore", "extra", null].includes(column.role));
  return {
    aside: columns.length ? `${used.length} of ${columns.length} named` : "",
    sub: used.map((/** @type {any} */ column) => CHANNEL[column.role] ?? column.role).join(", ") || "none named yet",
    inside: insideChannels,
  };
}

function insideChannels() {
  const inputs = state.view?.inputs ?? [];
  const input = chosenInput();
  const at = inputs.indexOf(input);
  const columns = input?.understood?.columns ?? [];
  return [
    inputs.length > 1 ? select({ name: "channels input", label: "Log to look at", value: String(at), options: inputs.map((/** @type {any} */ one, /** @type {number} */ i) => /** @type {[string, string]} */ ([String(i), shortName(one.name, 30)])), set: (value) => set({ input: Number(value) }) }) : null,
    columns.map((/** @type {any} */ column) => {
      const units = COLUMN_ROLES.find(([role]) => role === (column.role ?? "extra"))?.[2] ?? [];
      const shown = /** @type {string[]} */ (units);
      const options = column.unit && !shown.includes(column.unit) ? [column.unit, ...shown] : shown;
      return h("div", { class: "group", key: `column ${at} ${column.number}` },
        h("div", { class: "row" }, h("span", null, h("span", { class: "quiet" }, `${column.number} `), shortName(column.header ?? "no name", 30)),
          options.length ? select({ name: `unit ${at} ${column.number}`, label: `Unit of column ${column.number}`, value: column.unit ?? "", options: options.map((/** @type {string} */ unit) => [unit, (unit || "no unit").replace(/^u/, "µ")]), set: (unit) => setColumnUnit(at, column, unit) }) : null),
        select({ name: `role ${at} ${column.number}`, label: `Meaning of column ${column.number}`, value: column.role ?? "extra", options: COLUMN_ROLES.map(([role, words]) => /** @type {[string, string]} */ ([role, words])), set: (role) => setColumnRole(at, column, role) }),
        ["A", "V"].includes(CHANNEL_UNIT[column.role]) ? switchRow({ label: "Turn its sign", value: isReversed(at, column.role), set: (on) => setReversed(at, column.role, on) }) : null,
        column.reason ? h("p", { class: "note" }, sentence(column.reason)) : null);
    }),
    (input?.asks ?? []).map((/** @type {any} */ one) => wrong(one.message)),
    columns.some((/** @type {any} */ column) => column.role === "time") && rowPeriod(at) === null ? null : numberRow({ name: `period ${at}`, label: "Time from row to row", unit: "s", value: rowPeriod(at), least: 0, empty: true, place: "not said", set: (/** @type {number|null} */ value) => setRowPeriod(at, value) }),
  ];
}

export function alignmentCard() {
  const alignment = currentRun()?.alignment;
  const delays = Object.entries(alignment?.delays ?? {}).filter(([, q]) => /** @type {any} */ (q)?.value);
  const from = alignment?.from ?? "none";
  return {
    aside: delays.length ? quantity({ value: Math.max(...delays.map(([, q]) => /** @type {any} */ (q).value)), u: null }, "s", 3) + " at most" : "no delays",
    sub: /** @type {Record<string, string>} */ ({ stated: "delays as stated", straight_through: "delays from the straight-through run", up_down: "delays from the run’s own ups and downs", none: "all channels taken as of one instant" })[from] ?? from,
    inside: () => [
      hasKnob(KNOB.delays) && typeof knob(KNOB.delays) === "string" ? h("div", { class: "row" }, h("span", null, "Delays"), choice({ name: "delays", label: "Delays", value: knob(KNOB.delays), options: [["auto", "found"], ["none", "none"], ["stated", "stated"]], set: (value) => turn(KNOB.delays, value, "alignment") })) : null,
      Object.keys(alignment?.delays ?? {}).length ? table(["channel", "behind the row’s time"], Object.entries(alignment.delays).map(([channel, q]) => [CHANNEL[channel] ?? channel, quantity(q, "s")]), "facts", "Delays by channel") : h("p", { class: "note" }, "No delays are known, so none are taken out."),
      hasKnob(KNOB.delaySeconds) && knob(KNOB.delays) === "stated" ? ["v_in", "i_in", "v_out_high", "v_out_low", "i_out"].map((channel, i) => numberRow({ name: `delay ${channel}`, label: CHANNEL[channel], unit: "ms", value: knob(KNOB.delaySeconds)?.[i] === null ? null : (knob(KNOB.delaySeconds)?.[i] ?? 0) * 1e3, empty: true, set: (/** @type {number|null} */ value) => turn(`${KNOB.delaySeconds}.${i}`, value === null ? null : value / 1e3, "alignment") })) : null,
      alignment?.gap_before !== null && alignment?.gap_before !== undefined ? h("p", { class: "note" }, `Gap between rising and falling rows: ${plain(alignment.gap_before, "%", 2)} of efficiency before, ${plain(alignment.gap_after, "%", 2)} after.`) : null,
    ],
  };
}

/** Kept rows less those that are labelled off or in the supply's limit. @param {any} run */
function operatingRows(run) {
  return run.rows.by_reason.reduce((/** @type {number} */ left, /** @type {any} */ one) => (one.code === "off" || one.code === "supply_limit" ? left - one.first_reason : left), run.rows.kept);
}

export function pointsCard() {
  const run = currentRun();
  const peak = run?.peak?.efficiency;
  const part = pieces(peak, "%");
  const grade = GRADE[run?.grade];
  return {
    aside: peak?.value ? `best ${part.value} ${part.unit}` : grade?.[0] ?? "",
    sub: run ? `${counted(operatingRows(run), "point")} ${planeLine(run)}` : "",
    inside: () => [
      grade ? h("p", { class: "said" }, `${grade[0]}. ${grade[1]}`) : null,
      hasKnob(KNOB.offBelow) ? numberRow({ name: "smallest", label: "Smallest honest current", unit: "A", value: knob(KNOB.offBelow), least: 0, empty: true, place: "found", set: (/** @type {number|null} */ value) => turn(KNOB.offBelow, value, "points") }) : null,
      run ? table(["", ""], [
        ["Best efficiency", quantity(run.peak?.efficiency, "%")],
        ["at input", quantity(run.peak?.v_in, "V")],
        ["at output", quantity(run.peak?.i_out, "A")],
        ["With no load", quantity(run.quiescent?.power, "W")],
        ["Energy in", plain(run.energy?.p_in, "J")],
        ["Energy out", plain(run.energy?.p_out, "J")],
        ["Over", span(state.view.inputs[run.parts[0].input]?.duration)],
      ].filter(([, value]) => value !== "–"), "facts", "Main figures") : null,
    ],
  };
}
