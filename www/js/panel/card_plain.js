// @ts-check
// The smaller cards: Channels, Alignment, Operating points.

import { h } from "../dom.js";
import { counted, pieces, plain, quantity, shortName, span } from "../format.js";
import { currentRun, set, state } from "../state.js";
import { CHANNEL, CHANNEL_UNIT, GRADE } from "../text.js";
import { KNOB, hasKnob, knob, turn } from "../knobs.js";
import { choice, numberRow, table } from "./controls.js";
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
  const run = currentRun();
  const at = run?.parts?.[0]?.input ?? 0;
  const input = state.view?.inputs?.[at];
  const used = (input?.understood?.columns ?? []).filter((/** @type {any} */ column) => !["ignore", "extra"].includes(column.role));
  const step = input?.understood?.resolution ?? {};
  return [
    used.length ? table(["channel", "column", "unit", "smallest step"], used.map((/** @type {any} */ column) => [CHANNEL[column.role] ?? column.role, h("span", { title: column.header }, `${column.number} ${shortName(column.header || "", 14)}`), column.unit, plain(step[column.role === "v_out" ? "v_out_high" : column.role], CHANNEL_UNIT[column.role] ?? "", 2)]), "facts", "Channels of the run in front") : null,
    h("button", { class: "btn", onclick: () => set({ card: "log", input: at, chainShown: true }) }, "Change what a column means"),
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

export function pointsCard() {
  const run = currentRun();
  const peak = run?.peak?.efficiency;
  const part = pieces(peak, "%");
  const grade = GRADE[run?.grade];
  return {
    aside: peak?.value ? `best ${part.value} ${part.unit}` : grade?.[0] ?? "",
    sub: run ? `${counted(run.rows.operating ?? run.rows.kept, "point")} ${planeLine(run)}` : "",
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
