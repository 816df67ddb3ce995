// @ts-check
// A pulse-width-dimmed or bursting output: recognised, what survives, what to log.

import { h } from "../dom.js";
import { fixed, pieces, quantity, sentence } from "../format.js";
import { changeSettings, currentRun } from "../state.js";
import { knob } from "../knobs.js";
import { PULSED_HOW, PULSED_USED } from "../text_rows.js";
import { choiceRow, numberRow, wrong } from "./controls.js";

/** Whether a run's output is pulsed. @param {any} run */
function isPulsed(run) {
  return Boolean(run?.pulsed && (run.pulsed.recognised || run.pulsed.used === "refused"));
}

/** What is said of a pulsed output, or nothing. @param {any} run @param {boolean} [whole] with the choice to say otherwise */
export function pulsedBox(run, whole = true) {
  const pulsed = run?.pulsed;
  if (!pulsed || !isPulsed(run) && !(whole && said(run) !== "auto")) return null;
  // As logged, the loss of the fixture is in the answer anyhow.
  const behindFixture = run.grade !== "as_logged";
  const facts = [
    pieces(pulsed.period, "s").value === "–" ? null : `period ${quantity(pulsed.period, "s")}`,
    pieces(pulsed.duty, "%").value === "–" ? null : `on for ${quantity(pulsed.duty, "%")} of it`,
    pulsed.rows_per_period ? `${fixed(pulsed.rows_per_period, 1)} rows in a period` : null,
  ].filter(Boolean);
  return h("div", { class: "group pulsed", key: "pulsed" },
    h("h4", null, "Pulsed output"),
    pulsed.refused ? wrong(sentence(pulsed.refused)) : h("p", { class: "said" }, isPulsed(run) ? "The output is pulse-width dimmed or comes in bursts. " : "", PULSED_USED[pulsed.used] ?? ""),
    pulsed.evidence ? h("p", { class: "note" }, sentence(pulsed.evidence), pulsed.how && pulsed.how !== "none" ? ` Told because ${PULSED_HOW[pulsed.how] ?? pulsed.how}.` : "") : null,
    facts.length ? h("p", { class: "note" }, `${sentence(facts.join(", "))}`) : null,
    pulsed.path_loss && behindFixture ? h("p", { class: "note" }, sentence(pulsed.path_loss), whole ? "" : " It is asked under Operating points.") : null,
    whole && pulsed.used === "power" && (behindFixture || !pulsed.path_loss) ? onCurrent(run) : null,
    list("What survives", pulsed.survives),
    list("What to log instead", pulsed.log_instead),
    whole ? outputChoice(run) : null);
}

/** @param {string} title @param {string[]|undefined} lines */
function list(title, lines) {
  return lines?.length ? h("div", { class: "group" }, h("h4", null, title), h("ul", { class: "lines" }, lines.map((line) => h("li", null, sentence(line))))) : null;
}

/** @param {any} run */
function said(run) {
  return knob("runs", {})?.[run?.name]?.pulsed ?? "auto";
}

/** What the output is taken for: found, or said. @param {any} run */
export function outputChoice(run) {
  if (!run?.pulsed) return null;
  return choiceRow({
    name: "pulsed output", label: "The output is", value: said(run), options: [["auto", "found"], ["steady", "steady"], ["pulsed", "pulsed"]],
    set: (/** @type {string} */ value) => say("pulsed output", { pulsed: value === "auto" ? null : value }),
  });
}

/** The output current while on, from which the loss of the fixture's output path follows. @param {any} run */
function onCurrent(run) {
  return numberRow({
    name: "on current", label: "Output current while on", unit: "A", value: knob("runs", {})?.[run?.name]?.on_current ?? null, least: 1e-6, empty: true, place: "unknown",
    set: (/** @type {number|null} */ value) => say("output current while on", { on_current: value }),
  });
}

/** Decides something for the run that is shown. @param {string} what @param {any} change */
function say(what, change) {
  changeSettings(what, (settings) => {
    const name = currentRun()?.name;
    if (!name) return;
    settings.runs ??= {};
    settings.runs[name] = { ...settings.runs[name], ...change };
  }, "points");
}
