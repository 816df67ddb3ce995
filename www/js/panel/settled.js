// @ts-check
// The Settled points view: a table of averages or the plateaus of a stepped run, with how they were found.

import { h, offerFile } from "../dom.js";
import { count, counted, percentOf, quantity, span } from "../format.js";
import { ask } from "../link.js";
import { KNOB, hasKnob, knob, turn } from "../knobs.js";
import { isTimed } from "../run.js";
import { changeSettings, currentRun, notify, report, state } from "../state.js";
import { PLATEAU_WHY, SETTLED_WHY } from "../text_rows.js";
import { choiceRow, numberRow, table } from "./controls.js";
import { rowActs } from "./picked.js";

/** Whether a run has something to show here. @param {any} run */
export function hasSettled(run) {
  const settled = run?.settled_points;
  return Boolean(settled && (settled.recognised || settled.stepped || settled.found > 0 || settled.points?.length));
}

export function settledTools() {
  return [
    h("button", { class: "btn", onclick: copyTable, disabled: !hasPoints() }, "Copy the table"),
    h("button", { class: "btn", onclick: saveTable, disabled: !hasPoints() }, "Save as CSV"),
  ];
}

function hasPoints() {
  return Boolean(currentRun()?.settled_points?.points?.length);
}

async function text() {
  return ask("export", { what: "settled_csv", run: state.run });
}

async function copyTable() {
  try {
    const file = await text();
    await navigator.clipboard.writeText(file.text);
    notify("", "The table of settled points is copied, as CSV.", "SI units; u is one standard uncertainty.", true);
  } catch (error) {
    if (error instanceof DOMException) notify("", "This browser does not let the page copy.", "Save it as a file instead.");
    else report(error);
  }
}

async function saveTable() {
  try {
    const file = await text();
    offerFile(file.name, file.text, "text/csv");
  } catch (error) {
    report(error);
  }
}

export function settledPanel() {
  const run = currentRun();
  const settled = run?.settled_points;
  if (!settled) return h("p", { class: "said" }, "No run is open yet.");
  const points = settled.points ?? [];
  return h("div", { class: state.stale && !state.ahead ? "sheets dim" : "sheets" },
    h("section", { class: "plate whole" }, h("h2", null, "How they were found"), found(settled), uses(run, settled)),
    h("section", { class: "plate whole", "aria-labelledby": "settled-title" }, h("h2", { id: "settled-title" }, points.length ? `${counted(points.length, "settled point")}` : "No settled points"),
      points.length ? pointTable(points, settled) : h("p", { class: "note" }, "There is nothing to list.")));
}

/** @param {any} settled */
function found(settled) {
  const dwell = Number.isFinite(settled.dwell) ? `, typically ${span(settled.dwell)} long` : "";
  const covered = Number.isFinite(settled.covered) ? ` They cover ${percentOf(settled.covered)} of the time.` : "";
  const settle = settled.settle && settled.settle.value !== null && settled.settle.value !== undefined ? ` ${quantity(settled.settle, "s")} are dropped after each change.` : "";
  if (settled.recognised && settled.why !== "plateaus") {
    return h("p", { class: "said" }, `This log is a table of settled points: ${SETTLED_WHY[settled.why] ?? settled.why}. Each row stands for itself; the gates that look at time, and the sieve, are off.`);
  }
  if (settled.found > 0) {
    return [
      h("p", { class: "said" }, `${counted(settled.found, "plateau")} found${dwell}.${covered}${settle}`),
      h("p", { class: "note" }, settled.used ? "The run is its plateaus: one averaged point each, and every number of rows counts points." : `They are not used${settled.why_not ? `: ${PLATEAU_WHY[settled.why_not] ?? settled.why_not}` : ""}. The run counts by its rows.`),
    ];
  }
  return h("p", { class: "said" }, `No plateaus${settled.why_not ? `: ${PLATEAU_WHY[settled.why_not] ?? settled.why_not}` : ""}.`);
}

/** On, off, and how plateaus are cut. @param {any} run @param {any} settled */
function uses(run, settled) {
  const own = knob("runs", {})?.[run.name]?.plateaus ?? "auto";
  return h("div", { class: "uses" },
    settled.recognised && settled.why !== "plateaus" || settled.why === "denied" ? choiceRow({ name: "settled table", label: "Table of settled points", value: knob(KNOB.settledPoints, "auto"), options: [["auto", "found"], ["yes", "yes"], ["no", "no"]], set: (value) => turn(KNOB.settledPoints, value, "sieve") }) : null,
    hasKnob("plateaus") ? [
      choiceRow({
        name: "plateaus", label: "Use the plateaus", value: own, options: [["auto", "found"], ["on", "on"], ["off", "off"]],
        set: (value) => changeSettings("plateaus", (settings) => {
          settings.runs ??= {};
          settings.runs[run.name] = { ...settings.runs[run.name], plateaus: value === "auto" ? null : value };
        }, "sieve"),
      }),
      numberRow({ name: "plateau settle", label: "Dropped after each change", unit: "s", value: knob("plateaus.settle", null), least: 0, empty: true, place: "found", set: (/** @type {number|null} */ value) => turn("plateaus.settle", value, "sieve") }),
      numberRow({ name: "plateau least", label: "Shortest plateau", unit: "s", value: knob("plateaus.least", null), least: 0, empty: true, place: "found", set: (/** @type {number|null} */ value) => turn("plateaus.least", value, "sieve") }),
    ] : null);
}

/** Rows shown at once; more would only slow the page, and the copy has them all. */
const MOST = 400;

/** @param {any[]} points @param {any} settled */
function pointTable(points, settled) {
  const shown = points.slice(0, MOST);
  const each = settled.recognised && settled.why !== "plateaus";
  const row = (/** @type {any} */ point) => (point.first === point.last ? count(point.first) : `${count(point.first)}–${count(point.last)}`);
  return [
    h("p", { class: "note" }, each ? "± is 95 %: what is known of accuracy; a table of averages carries no scatter of its own." : "± is 95 %, from the scatter within each plateau and what is known of accuracy; efficiency’s in points.", points.length > MOST ? ` The first ${MOST} of ${count(points.length)}; the copy has them all.` : ""),
    h("div", { class: "scroll tall", tabindex: "0", role: "group", "aria-label": "Settled points" },
      table(["rows", "time", "rows used", "left out", "V in", "I in", "V out", "I out", "loss", "efficiency / %, ± points", each ? "by hand" : ""].filter(Boolean), shown.map((/** @type {any} */ point) => [
        row(point), isTimed(currentRun()) ? span(point.time, true) : "–", count(point.n), count(point.left_out), quantity(point.v_in, "V"), quantity(point.i_in, "A"), quantity(point.v_out, "V"), quantity(point.i_out, "A"), quantity(point.loss, "W"),
        quantity({ value: point.value, u: point.u ?? point.u_random }, "%").replace(" %", ""), each ? rowActs(point.first, true) : null,
      ].filter((cell, i) => each || i < 10)), "", "Settled points")),
  ];
}
