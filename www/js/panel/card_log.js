// @ts-check
// The Log stage: one card per log of what was understood; the one in front is open.

import { h } from "../dom.js";
import { count, counted, plain, span } from "../format.js";
import { currentInputs, currentRun, set, state } from "../state.js";
import { idOf } from "./controls.js";
import { factsOf, fileInside, stateWords } from "./log_file.js";
import { chooseFiles, pasteTable } from "./open.js";

/** @returns {{aside: any, sub: any, inside: () => any}} */
export function logCard() {
  const inputs = state.view?.inputs ?? [];
  const front = inputs[currentInputs()[0]] ?? inputs[0];
  const run = currentRun();
  const waiting = inputs.filter((/** @type {any} */ one) => one.outcome === "refused" || one.outcome === "asks").length;
  const rate = front?.row_period > 0 ? `${span(front.duration)}, a row each ${plain(front.row_period, "s", 3)}` : front ? "no time known" : "";
  return {
    aside: waiting ? h("span", { class: "out" }, waiting === 1 ? "one asks" : `${waiting} ask`) : counted(inputs.length, "log"),
    sub: run ? `${run.name}: ${rate}, ${counted(front?.understood?.columns?.length ?? 0, "column")}` : "No converter’s run yet",
    inside,
  };
}

function inside() {
  const inputs = state.view?.inputs ?? [];
  return [
    h("ul", { class: "files", "aria-label": "Logs" }, inputs.map((/** @type {any} */ input, /** @type {number} */ at) => {
      const open = state.input === at;
      const id = idOf(`file ${at}`);
      const doubt = stateWords(input);
      return h("li", { class: open ? "file open" : "file", key: `file ${state.view.keys?.[at] ?? at}` },
        h("h4", null, h("button", { class: "filehead", "aria-expanded": String(open), "aria-controls": id, onclick: () => set({ input: open ? -1 : at }) },
          h("span", { class: "name", title: input.name }, input.name),
          h("span", { class: "amount" }, input.outcome === "refused" ? "" : counted(input.rows_found, "row")),
          h("span", { class: "facts" }, factsOf(input)),
          doubt ? h("span", { class: "out" }, doubt) : null)),
        h("div", { class: "filein", id, hidden: !open }, open ? fileInside(input, at) : null));
    })),
    h("div", { class: "row start" }, h("button", { class: "btn", onclick: chooseFiles }, "Add a log"), h("button", { class: "btn", onclick: pasteTable }, "Paste a table")),
    inputs.length > 1 ? h("p", { class: "note" }, `${count(inputs.length)} logs are open. Each is read for itself; what is changed here can be undone.`) : null,
  ];
}
