// @ts-check
// The empty bench: one sentence, a place to drop logs, what to record, what to take care of.

import { emptyContours, wiringPicture } from "../figure/wiring.js";
import { h } from "../dom.js";
import { state } from "../state.js";
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

/** The chain before anything is open: what happens to a log. */
export function drawPlan() {
  return h("div", { class: "chain plan", key: "plan" }, h("h2", null, "What happens to a log"),
    STAGES.map((stage, i) => [
      i ? h("div", { class: "between" }) : null,
      h("div", { class: "stage" }, h("b", null, stage.name), h("span", { class: "note" }, stage.plan)),
    ]));
}
