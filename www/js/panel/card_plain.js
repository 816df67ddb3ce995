// @ts-check
// The smaller cards: Channels, Operating points.

import { h } from "../dom.js";
import { counted, pieces, plain, quantity, shortName, span } from "../format.js";
import { currentRun, set, state } from "../state.js";
import { CHANNEL, CHANNEL_UNIT, GRADE } from "../text.js";
import { KNOB, hasKnob, knob, turn } from "../knobs.js";
import { numberRow, table } from "./controls.js";
import { planeLine } from "./plane.js";
import { outputChoice, pulsedBox } from "./pulsed.js";

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

export function pointsCard() {
  const run = currentRun();
  const peak = run?.peak?.efficiency;
  const part = pieces(peak, "%");
  const grade = GRADE[run?.grade];
  return {
    aside: peak?.value ? `best ${part.value} ${part.unit}` : grade?.[0] ?? "",
    sub: run ? `${counted(run.rows.operating ?? run.rows.kept, "point")} ${planeLine(run)}` : "",
    inside: () => [
      pulsedBox(run) ?? outputChoice(run),
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
