// @ts-check
// What to improve next: what the uncertainty is made of at the user's own operating points, in points, and
// what each further run would bring.

import { h, sv } from "../dom.js";
import { decimalsFor, fixed, pieces, plain, quantity, sentence, shortName } from "../format.js";
import { set, state } from "../state.js";
import { runText } from "../text_fixture.js";
import { select, table } from "./controls.js";

/** Operating points at which the calibration's uncertainty is stated. */
export function budgetPoints() {
  return state.view?.fixture?.budget?.points ?? [];
}

/** The chosen one, or null. */
export function budgetPoint() {
  const points = budgetPoints();
  const mine = points.findIndex((/** @type {any} */ point) => point.run === state.view?.runs?.[state.run]?.name);
  const at = state.budgetPoint < 0 || state.budgetPoint >= points.length ? Math.max(0, mine) : state.budgetPoint;
  return points[at] ?? null;
}

/** @param {any} point */
export function pointWords(point) {
  return `${shortName(point.run, 20)}: ${plain(point.v_in, "V", 3)}, ${plain(point.i_out, "A", 3)}`;
}

export function pointChoice() {
  const points = budgetPoints();
  if (points.length < 2) return null;
  return select({ name: "budget point", label: "Operating point", value: String(points.indexOf(budgetPoint())), options: points.map((/** @type {any} */ point, /** @type {number} */ i) => /** @type {[string, string]} */ ([String(i), pointWords(point)])), set: (value) => set({ budgetPoint: Number(value) }) });
}

/** An interval in points, without sign. @param {number|null|undefined} u */
function points(u) {
  return u === null || u === undefined ? "not known" : pieces({ value: 0, u }, "%").pm ?? "0";
}

/** Bars of the parts, the largest first. @param {any} point @param {number} [most] */
export function improveBars(point, most = 8) {
  const parts = (point?.parts ?? []).filter((/** @type {any} */ part) => part.u > 0);
  const shown = parts.slice(0, most);
  const largest = Math.max(...shown.map((/** @type {any} */ part) => part.u), 1e-30);
  return h("div", { class: "longbars" }, shown.map((/** @type {any} */ part) => [
    h("span", null, part.words || part.source.replaceAll("_", " ")),
    h("span", null, points(part.u)),
    sv("svg", { viewBox: "0 0 100 6", preserveAspectRatio: "none", "aria-hidden": "true" }, sv("rect", { x: 0, y: 0, width: (100 * part.u) / largest, height: 6, class: part.source === "scatter" ? "scatter" : undefined }))]));
}

/** How the interval was found, where it is not the plain way. @param {any} point */
function intervalWords(point) {
  const interval = point.interval;
  if (!interval || interval.by === "none" || interval.low === null || interval.high === null) return null;
  const [low, high] = [interval.low, interval.high].map((end) => fixed(end * 100, decimalsFor(((interval.high - interval.low) / 2) * 100)));
  return interval.by === "monte_carlo" ? `95 % interval from 10⁵ draws (JCGM 101): ${low} to ${high} %. ${sentence(interval.why)}` : `95 % interval: ${low} to ${high} %.`;
}

/** The whole sheet, opened in place. */
export function improveSheet() {
  const fixture = state.view?.fixture;
  const point = budgetPoint();
  if (!point) return h("p", { class: "note" }, fixture ? "Open a converter’s run: what the calibration leaves uncertain is stated at its operating points." : "Nothing to state yet.");
  const gains = (point.after ?? []).filter((/** @type {any} */ one) => one.u !== null);
  const cures = (point.parts ?? []).filter((/** @type {any} */ part) => part.cure && part.u > 0).slice(0, 4);
  return h("div", { class: "group" },
    h("div", { class: "row" }, h("span", null, pointChoice() ?? pointWords(point)), h("span", { class: "note" }, "95 %, in points")),
    h("p", null, `Efficiency ${quantity({ value: point.efficiency, u: point.u }, "%")} (± in points).`, point.u === null ? " Accuracy is not known here." : ""),
    intervalWords(point) ? h("p", { class: "note" }, intervalWords(point)) : null,
    improveBars(point),
    cures.length ? h("ul", { class: "cures" }, cures.map((/** @type {any} */ part) => h("li", null, h("b", null, `${sentence(part.words)} `), sentence(part.cure)))) : null,
    fixture?.budget?.sentence ? h("p", { class: "said" }, sentence(fixture.budget.sentence)) : null,
    gains.length ? table(["one more run", "± then / points"], gains.map((/** @type {any} */ one) => [runText(one.run)?.name ?? (one.words || one.run.replaceAll("_", " ")), points(one.u)]), "facts", "What each further run would bring") : null);
}
