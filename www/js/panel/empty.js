// @ts-check
// The empty bench: one sentence, a place to drop logs, what to record, what to take care of.

import { emptyContours, wiringPicture } from "../figure/wiring.js";
import { h } from "../dom.js";
import { sentence } from "../format.js";
import { set, state } from "../state.js";
import { CARE_LINE, ONE_SENTENCE, RECORD, STAGES, STAYS_HERE } from "../text.js";
import { busyLine, notices } from "./busy.js";
import { chooseFiles, hasDemo, openDemo, pasteTable } from "./open.js";

export function drawEmpty() {
  const ready = state.core !== "broken";
  return [
    h("div", { class: "hello", key: "hello" }, h("h1", null, ONE_SENTENCE), h("p", null, STAYS_HERE)),
    notices(""), notices("log"),
    busyLine(),
    h("div", { class: "drop", key: "drop" }, emptyContours(),
      h("div", { class: "call" },
        h("h2", null, "Drop logs here"),
        h("p", null, "Text from any logger: one row per reading, up to millions of rows."),
        h("div", { class: "set" },
          h("button", { class: "btn", onclick: chooseFiles, disabled: !ready }, "Choose files"),
          h("button", { class: "btn", onclick: pasteTable, disabled: !ready }, "Paste a table"),
          hasDemo() ? h("button", { class: "btn main", onclick: openDemo, disabled: !ready }, "Open the demo") : null),
        hasDemo() ? h("p", { class: "note" }, "The demo: one greenhouse lamp, two drivers. Invented data.") : null)),
    h("section", { class: "record", key: "record", "aria-label": RECORD.title },
      h("header", null, h("h2", null, RECORD.title), h("p", null, RECORD.lead), h("p", null, RECORD.tail)),
      h("ol", null, RECORD.runs.map((run, i) => h("li", null,
        h("h3", null, h("b", null, String(i + 1)), run.name, h("small", null, run.time)),
        wiringPicture(run.kind), h("p", null, run.does), h("p", { class: "note" }, run.shows))))),
    h("p", { class: "take", key: "take" }, h("b", null, "Take care"), CARE_LINE),
  ];
}

/** The middle while logs are open but no run stands yet: what each of them waits for. */
export function drawWaitingLogs() {
  const inputs = state.view?.inputs ?? [];
  const waiting = inputs.map((/** @type {any} */ input, /** @type {number} */ at) => ({ input, at })).filter((/** @type {any} */ one) => one.input.outcome === "asks" || one.input.outcome === "refused");
  if (!waiting.length || state.view?.runs?.length) return null;
  return h("div", { class: "sheets", key: "waiting" }, h("section", { class: "plate whole" }, h("h2", null, "No converter’s run stands yet"),
    h("p", { class: "note" }, "A run needs input voltage, input current, output voltage and output current."),
    h("ul", { class: "waiting" }, waiting.map(({ input, at }) => h("li", null,
      h("p", null, h("b", null, input.name)),
      h("p", { class: "note" }, input.outcome === "refused" ? sentence(input.refusal) : sentence(input.asks?.[0]?.message)),
      h("button", { class: "btn", onclick: () => set({ card: "log", input: at, chainShown: true }) }, "Open its card"))))));
}

/** The chain before anything is open: what happens to a log. */
export function drawPlan() {
  return h("div", { class: "chain plan", key: "plan" }, h("h2", null, "What happens to a log"),
    STAGES.map((stage, i) => [
      i ? h("div", { class: "between" }) : null,
      h("div", { class: "stage" }, h("b", null, stage.name), h("span", { class: "note" }, stage.plan)),
    ]));
}
