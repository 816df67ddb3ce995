// @ts-check
// What the map says in words: why it stands empty, its summary for who cannot see it, its cells as a table.

import { h } from "../dom.js";
import { count, fixed, pieces, quantity } from "../format.js";
import { byHand, undoAllByHand } from "../hand.js";
import { currentRun, set, state } from "../state.js";
import { asPair, drawn } from "../figure/map.js";
import { table } from "./controls.js";

/** The map as a table: its cells. */
export function cellTable() {
  const cells = currentRun()?.map?.[state.colour] ?? [];
  if (!cells.length) return h("p", { class: "note" }, "There are no cells yet.");
  const unit = state.colour === "loss" ? "W" : "%";
  return h("div", { class: "scroll", tabindex: "0", role: "group", "aria-label": "Cells of the map" }, table(["input / V", "output / A", state.colour === "loss" ? "loss" : "efficiency / %, ± points", "rows", "visits"],
    cells.map((/** @type {any} */ cell) => [fixed(cell.v_in, 2), fixed(cell.i_out, 3), h("span", null, quantity({ value: cell.value, u: cell.u ?? cell.u_random }, unit).replace(" %", ""), cell.thin ? h("span", { class: "quiet" }, " thin") : null, cell.leans ? h("span", { class: "quiet", title: "So near to zero or to 100 % the interval is longer on one side; ask for this point to have it drawn." }, " uneven") : null), count(cell.n), count(cell.visits)]), "", "Cells of the map"));
}

/** The map in a few sentences. */
export function summary() {
  const run = currentRun();
  const extent = drawn.extent;
  const peak = pieces(run?.peak?.efficiency, "%");
  const range = extent?.v_in ? ` Input ${asPair(extent.v_in)?.map((v) => fixed(v, 2)).join(" to ")} V, output ${asPair(extent.i_out)?.map((v) => fixed(v, 3)).join(" to ")} A.` : "";
  return `${run?.name ?? ""}: ${count(run?.rows.kept)} rows by input voltage and output current, coloured by ${state.colour}.${range}${peak.value !== "–" ? ` Best efficiency ${peak.value} %.` : ""} Arrow keys walk the rows, Home and End go to the first and last; Enter begins a box at the row and ends it at another; Delete takes the chosen rows out, K keeps them, U undoes by hand; plus and minus zoom, 0 fits, Escape clears.`;
}

/** Why the figure stands empty, or nothing where it does not. @param {any} run */
export function nothingToShow(run) {
  const rows = run.rows;
  const say = (/** @type {any} */ words, /** @type {string} */ card, /** @type {string} */ act) => h("div", { class: "nothing" }, h("p", null, words), h("button", { class: "btn", onclick: () => set({ card, chainShown: true }) }, act));
  if (rows.read === 0) return say("The log holds no row.", "log", "Open the log’s card");
  const hand = byHand();
  if (rows.kept === 0 && hand.removed > rows.read / 2) return h("div", { class: "nothing" }, h("p", null, `All rows are out, ${count(hand.removed)} of them taken out by hand.`), h("button", { class: "btn", onclick: undoAllByHand }, "Undo all by hand"));
  if (rows.kept === 0) return say("No row is kept, so there is nothing to show. Fewer least rows, or a gate switched off, brings rows back.", "sieve", "Open the Sieve");
  if (rows.operating !== 0) return null;
  const fell = (rows.stages ?? []).find((/** @type {any} */ stage) => stage.stage === "fixture")?.out ?? [];
  const [limit, off] = ["supply_limit", "off"].map((reason) => fell.find((/** @type {any} */ one) => one.reason === reason)?.rows ?? 0);
  const because = [
    off ? `in ${count(off)} the output is off or its current too small to judge` : null,
    limit ? `in ${count(limit)} the supply is in its current limit` : null,
  ].filter(Boolean).join(", and ");
  const kept = `${rows.kept === 1 ? "One row is" : `${count(rows.kept)} rows are`} kept, but none is an operating point${because ? `: ${because}` : ""}.`;
  return limit >= off && limit
    ? say(`${kept} Look whether the columns are what they are taken for, or lift the supply’s limit.`, "log", "Look at the columns")
    : say(`${kept} Look whether the current columns and their units are right.`, "log", "Look at the columns");
}
