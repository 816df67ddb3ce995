// @ts-check
// The header: runs, undo and redo, saving and sharing.

import { h, renderInto, sv, tabKeys } from "../dom.js";
import { count } from "../format.js";
import { canRedo, canUndo } from "../history.js";
import { chooseRun, redo, set, setTheme, state, undo } from "../state.js";
import { APP_NAME } from "../text.js";
import { select } from "./controls.js";
import { chooseFiles } from "./open.js";
import { saveMenu, sharePage } from "./share.js";

const KINDS = ["", "second", "third"];

function mark() {
  const dots = [];
  for (const y of [3, 10, 17]) for (const x of [3, 10, 17]) if (x !== 17 || y !== 3) dots.push(sv("circle", { cx: x, cy: y, r: 2 }));
  return sv("svg", { viewBox: "0 0 20 20", class: "dots", "aria-hidden": "true" }, dots, sv("path", { d: "M14.8 .8l4.4 4.4M19.2 .8l-4.4 4.4" }));
}

/** @param {boolean} forward */
function turnIcon(forward) {
  return sv("svg", { viewBox: "0 0 16 16", "aria-hidden": "true" }, sv("path", { d: forward ? "M11 2l3 3-3 3M14 5H6.500a3.700 3.700 0 0 0 0 7.500H10" : "M5 2L2 5l3 3M2 5h7.500a3.700 3.700 0 0 1 0 7.500H6" }));
}

/** The class that keeps a run's colour and stroke everywhere. @param {number} run */
function runKind(run) {
  return KINDS[Math.min(run, 2)];
}

function runTabs() {
  const runs = state.view?.runs ?? [];
  const comparing = state.tab === "compare";
  return h("div", { class: "runs", role: "tablist", "aria-label": "Runs", onkeydown: tabKeys },
    runs.map((/** @type {any} */ run, /** @type {number} */ i) => {
      const chosen = i === state.run || (comparing && i === state.second);
      return h("button", {
        class: `run ${runKind(i)}`, role: "tab", "aria-selected": String(chosen), tabindex: i === state.run ? "0" : "-1", key: `run ${i}`,
        title: `${run.name}: ${count(run.rows.kept)} rows kept`, onclick: () => (comparing && i !== state.run ? set({ second: i }) : chooseRun(i)),
      }, h("i", null), h("span", null, run.name), h("em", { class: runs.length > 2 ? "away" : runs.length > 1 ? "wide-only" : undefined }, count(run.rows.kept), h("span", { class: "away" }, " rows kept")));
    }));
}

function drawTop() {
  const bench = state.phase === "bench";
  const theme = select({ name: "theme", label: "Appearance", value: state.theme, options: [["auto", "System"], ["light", "Light"], ["dark", "Dark"]], set: setTheme });
  return [
    h("div", { class: "brand" }, mark(), h("span", null, "Watt", h("b", null, APP_NAME.slice(4)))),
    bench ? [runTabs(), h("button", { class: "btn dash", onclick: chooseFiles, disabled: state.early }, "Add a log")] : h("span", { class: "place" }, "Empty bench"),
    h("div", { class: "acts" },
      bench && state.saved ? h("span", { class: "saved" }, "Settings kept in this browser") : null,
      bench ? [
        h("button", { class: "btn bare", onclick: undo, disabled: state.early || !canUndo(), title: "Undo (Ctrl+Z)" }, turnIcon(false), h("span", { class: "wide-only" }, "Undo"), h("span", { class: "phone-only away" }, "Undo")),
        h("button", { class: "btn bare", onclick: redo, disabled: state.early || !canRedo(), title: "Redo (Ctrl+Shift+Z)" }, turnIcon(true), h("span", { class: "wide-only" }, "Redo"), h("span", { class: "phone-only away" }, "Redo")),
      ] : null,
      h("span", { class: bench ? "wide-only" : undefined }, theme),
      bench ? [
        h("button", { class: "btn", onclick: saveMenu, disabled: state.early, "aria-label": "Save to a file" }, "Save", h("span", { class: "wide-only" }, " to a file")),
        h("button", { class: "btn main", onclick: sharePage, disabled: state.early, "aria-label": "Share as a page" }, "Share", h("span", { class: "wide-only" }, " as a page")),
      ] : h("button", { class: "btn", onclick: chooseFiles }, "Open a bench")),
  ];
}

/** @param {HTMLElement} parent */
export function mountTop(parent) {
  const header = h("header", { class: "top", own: true });
  parent.append(header);
  return () => renderInto(header, drawTop());
}
