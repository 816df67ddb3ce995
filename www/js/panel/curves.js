// @ts-check
// The Curves view: the map's cells against output current, gathered by input voltage.

import { h } from "../dom.js";
import { count, fixed, quantity } from "../format.js";
import { drawCurves } from "../figure/small.js";
import { currentRun, set, state } from "../state.js";
import { choice, table } from "./controls.js";

export function curvesTools() {
  return choice({ name: "curves colour", label: "Show", value: state.colour, options: [["efficiency", "Efficiency"], ["loss", "Loss"]], set: (colour) => set({ colour }) });
}

/** Up to three input voltages that the cells cover best. @param {any[]} cells */
function voltagesOf(cells) {
  const voltages = cells.map((cell) => cell.v_in).sort((a, b) => a - b);
  if (!voltages.length) return [];
  const [lo, hi] = [voltages[Math.floor(voltages.length * 0.03)], voltages[Math.floor((voltages.length - 1) * 0.97)]];
  return hi - lo < 0.2 ? [(lo + hi) / 2] : [lo, (lo + hi) / 2, hi];
}

/** Cells nearest one input voltage, one per output current. @param {any[]} cells @param {number} voltage @param {number} reach */
function slice(cells, voltage, reach) {
  return cells.filter((cell) => Math.abs(cell.v_in - voltage) <= reach && cell.i_out > 0 && !cell.thin).sort((a, b) => a.i_out - b.i_out);
}

function series() {
  const runs = state.view?.runs ?? [];
  const front = currentRun();
  const chosen = [front, runs.length > 1 ? runs[state.second] : null].filter(Boolean);
  const cells = front?.map?.[state.colour] ?? [];
  const voltages = voltagesOf(cells);
  const reach = voltages.length > 1 ? (voltages[1] - voltages[0]) / 8 : 1;
  return chosen.flatMap((run) => voltages.map((voltage) => ({
    label: `${run.name}, ${fixed(voltage, 1)} V`, kind: Math.min(2, runs.indexOf(run)), cells: slice(run.map?.[state.colour] ?? [], voltage, reach),
  }))).filter((one) => one.cells.length > 1);
}

export function curvesPanel() {
  const lines = series();
  const loss = state.colour === "loss";
  const title = loss ? "Loss against output current" : "Efficiency against output current";
  return h("div", { class: state.stale ? "sheets dim" : "sheets" },
    h("section", { class: "plate whole" }, h("h2", null, title),
      h("p", { class: "note" }, "Cells of the map near each input voltage, at the converter’s terminals; bands are 95 %."),
      lines.length ? h("div", { class: "small tall" }, h("canvas", { role: "img", "aria-label": `${title}: ${lines.map((one) => one.label).join("; ")}. The table below has the values.`, draw: (/** @type {HTMLCanvasElement} */ canvas) => drawCurves(canvas, lines, { log: state.logCurrent, loss }) })) : h("p", { class: "said" }, "No cells carry enough rows for a curve yet.")),
    h("section", { class: "plate whole" }, h("h2", null, "The same as a table"),
      h("div", { class: "scroll", tabindex: "0", role: "group", "aria-label": "Values of the curves" }, table(["line", "output / A", loss ? "loss" : "efficiency / %, ± points", "rows"], lines.flatMap((one) => one.cells.map((cell) => [one.label, fixed(cell.i_out, 3), quantity({ value: cell.value, u: cell.u ?? cell.u_random }, loss ? "W" : "%").replace(" %", ""), count(cell.n)]))))));
}
