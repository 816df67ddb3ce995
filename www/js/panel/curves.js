// @ts-check
// The Curves view: the map's cells against output current, gathered by input voltage.

import { h } from "../dom.js";
import { count, fixed, quantity } from "../format.js";
import { chooser } from "../figure/chooser.js";
import { drawCurves } from "../figure/small.js";
import { stepOf } from "../figure/boxes.js";
import { choose } from "../hand.js";
import { changed, currentRun, set, state } from "../state.js";
import { choice, table } from "./controls.js";
import { pickedBar } from "./picked.js";
import { planeCaption, planeLine } from "./plane.js";
import { svgButton } from "./vector.js";

/** Where the figure lies. @type {any} */
let plane = null;

export function curvesTools() {
  return choice({ name: "curves colour", label: "Show", value: state.colour, options: [["efficiency", "Efficiency"], ["loss", "Loss"]], set: (colour) => set({ colour }) });
}

/** The cells of a run by column of input voltage, ascending; each by output current. @param {any} run @returns {{voltage: number, cells: any[]}[]} */
function columnsOf(run) {
  const edges = run?.map?.edges;
  if (!edges || edges.v_in.length < 2) return [];
  /** @type {Map<number, any[]>} */
  const columns = new Map();
  for (const cell of run.map[state.colour] ?? []) {
    if (!(cell.i_out > 0)) continue;
    const at = stepOf(edges.v_in, cell.v_in);
    columns.set(at, [...(columns.get(at) ?? []), cell]);
  }
  return [...columns].sort((a, b) => a[0] - b[0]).map(([at, cells]) => ({ voltage: (edges.v_in[at] + edges.v_in[at + 1]) / 2, cells: cells.sort((a, b) => a.i_out - b.i_out) }));
}

/** Up to three columns that hold most of the currents: lowest, middle, highest. @param {{voltage: number, cells: any[]}[]} columns */
function chosenColumns(columns) {
  const most = Math.max(0, ...columns.map((column) => column.cells.length));
  const full = columns.filter((column) => column.cells.length >= 0.7 * most);
  return full.length < 3 ? full : [full[0], full[Math.floor(full.length / 2)], full[full.length - 1]];
}

function series() {
  const runs = state.view?.runs ?? [];
  const front = currentRun();
  const second = runs.length > 1 ? runs[state.second] : null;
  const mine = chosenColumns(columnsOf(front));
  const theirs = columnsOf(second);
  const line = (/** @type {any} */ run, /** @type {any} */ column) => ({ label: `${run.name}, ${fixed(column.voltage, 1)} V`, kind: Math.min(2, runs.indexOf(run)), cells: column.cells });
  return [
    ...mine.map((column) => line(front, column)),
    ...mine.flatMap((column) => theirs.filter((other) => Math.abs(other.voltage - column.voltage) < 0.02 * column.voltage).slice(0, 1)).map((column) => line(second, column)),
  ].filter((one) => one.cells.length > 1);
}

/** @param {HTMLCanvasElement} canvas @param {any[]} lines @param {boolean} loss */
function draw(canvas, lines, loss) {
  const before = JSON.stringify(plane?.frame);
  plane = drawCurves(canvas, lines, { log: state.logCurrent, loss });
  if (before !== JSON.stringify(plane?.frame)) changed();
}

/** @param {any} box @param {boolean} loss */
function chooseRows(box, loss) {
  const [low, high] = loss ? box.y : box.y.map((/** @type {number} */ value) => value * 100);
  return choose({ i_out: box.x, shown: true, [loss ? "loss" : "efficiency"]: box.y }, `Output ${fixed(box.x[0], 3)} to ${fixed(box.x[1], 3)} A, ${loss ? `loss ${fixed(low, 3)} to ${fixed(high, 3)} W` : `efficiency ${fixed(low, 2)} to ${fixed(high, 2)} %`}.`);
}

export function curvesPanel() {
  const lines = series();
  const loss = state.colour === "loss";
  const title = loss ? "Loss against output current" : "Efficiency against output current";
  return h("div", { class: state.stale ? "sheets dim" : "sheets" },
    h("section", { class: "plate whole" }, h("h2", null, title),
      h("p", { class: "note" }, `Cells of the map near each input voltage, ${planeLine()}; bands are 95 %.`),
      lines.length ? h("div", { class: "small tall" }, h("canvas", { role: "img", "aria-label": `${title}: ${lines.map((one) => one.label).join("; ")}. The table below has the values.`, draw: (/** @type {HTMLCanvasElement} */ canvas) => draw(canvas, lines, loss) }), chooser({ name: "curves", label: `${title}. A box chooses rows of ${currentRun()?.name ?? "the run"} at any input voltage.`, plane: () => plane, choose: (box) => chooseRows(box, loss) })) : h("p", { class: "said" }, "No cells carry enough rows for a curve yet."),
      h("div", { class: "figfoot" }, h("p", { class: "note" }, "Drag over the figure, or press Enter twice, to choose rows of the run in front by output current and height, at any input voltage."), lines.length ? svgButton({ what: "curves", title: `${title} ${planeLine()}`, lines: [`Cells of the map near each input voltage. Quoted ${planeLine()}: ${planeCaption()}.`, `Output current in A, ${loss ? "loss in W" : "efficiency in %; ± is 95 %, in points"}; bands are 95 %.`] }) : null), pickedBar()),
    h("section", { class: "plate whole" }, h("h2", null, "The same as a table"),
      h("div", { class: "scroll", tabindex: "0", role: "group", "aria-label": "Values of the curves" }, table(["line", "output / A", loss ? "loss" : "efficiency / %, ± points", "rows"], lines.flatMap((one) => one.cells.map((cell) => [one.label, fixed(cell.i_out, 3), quantity({ value: cell.value, u: cell.u ?? cell.u_random }, loss ? "W" : "%").replace(" %", ""), count(cell.n)]))))));
}
