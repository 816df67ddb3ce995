// @ts-check
// What the results say is known of the fixture, and from which run: nothing is worked out here.

import { state } from "../state.js";

/** How a segment is known, as drawn. @type {Record<string, string>} */
const DRAWN = { alone: "known", given: "known", in_a_sum: "sum", assumed: "assumed", unseen: "unknown" };

/** @returns {any} the circuit of the calibration, or that of the wiring before one is made */
function circuit() {
  return state.view?.fixture?.circuit ?? state.view?.wiring ?? null;
}

/** Whether what is shown comes from a record: the inputs it names are those of another bench. */
export function fromRecord() {
  return state.view?.fixture?.basis === "record";
}

/** An input that the calibration names, or null where it is one of another bench. @param {number} at */
export function inputOf(at) {
  return fromRecord() ? null : state.view?.inputs?.[at] ?? null;
}

/** Whether source and load share one ground lead. */
export function sharesGround() {
  return (circuit()?.segments ?? []).some((/** @type {any} */ one) => one.name === "shared_ground");
}

/** What one calibration input shows of the circuit. @param {number} at number of the input */
export function runReport(at) {
  if (fromRecord()) return null;
  return (circuit()?.runs ?? []).find((/** @type {any} */ run) => run.input === at) ?? null;
}

/** What a wiring that could be made would show. @param {string} kind */
export function wiringReport(kind) {
  return (circuit()?.wirings ?? []).find((/** @type {any} */ run) => run.kind === kind) ?? null;
}

/** Names of what one run settles once it is added to those before it. @param {number} at @returns {string[]} */
export function determinedBy(at) {
  const run = runReport(at);
  return run ? settledBy(run) : [];
}

/** The same of a run in the calibration. @param {any} run @returns {string[]} */
export function settledBy(run) {
  return [...(run.channels ?? []), ...run.settles];
}

/** Names of what a wiring that could be made would settle. @param {string} kind @returns {string[]} */
export function wouldSettle(kind) {
  const report = wiringReport(kind);
  return report ? settledBy(report) : [];
}

/** Which pieces a run lights: alone where it settles them, else as part of the sums it shows. @param {any} run @returns {(piece: string) => string} */
export function litOf(run) {
  if (!run) return () => "unknown";
  const shown = (run.shows ?? []).map((/** @type {any} */ sum) => sum.segments);
  const alone = new Set([...(run.settles ?? []), ...shown.filter((/** @type {string[]} */ names) => names.length === 1).flat()]);
  const sums = new Set(shown.flat());
  return (piece) => (alone.has(piece) ? "known" : sums.has(piece) ? "sum" : "unknown");
}

/** Which pieces all runs together light. @returns {(piece: string) => string} */
export function litByAll() {
  const fixture = state.view?.fixture;
  // A record of an earlier version has names only.
  if (!circuit()?.segments?.length) {
    const has = (/** @type {string} */ how, /** @type {string} */ piece) => fixture?.known?.[how]?.includes(piece) ?? false;
    return (piece) => (has("alone", piece) ? "known" : has("in_sums", piece) ? "sum" : has("by_assumption", piece) ? "assumed" : "unknown");
  }
  // Where the sides are measured, a contact that is assumed alike with others is known in their sum.
  const inSum = (/** @type {any} */ segment) => segment.known === "assumed" && fixture?.split?.settled && fixture.known.in_sums.includes(segment.name);
  const known = new Map((circuit()?.segments ?? []).map((/** @type {any} */ segment) => [segment.name, inSum(segment) ? "sum" : DRAWN[segment.known] ?? "unknown"]));
  return (piece) => known.get(piece) ?? "unknown";
}

/** The states that occur among the pieces drawn. @param {(piece: string) => string} lit @param {boolean} shared */
export function statesIn(lit, shared) {
  const there = ["in_high", "in_low", "out_high", "out_low", ...(shared ? ["shared_ground"] : [])].map(lit);
  return ["known", "sum", "assumed", "unknown"].filter((how) => there.includes(how));
}

/** The run that fixed how the resistance divides, or null. */
export function settlingRun() {
  if (fromRecord()) return null;
  const runs = circuit()?.runs ?? [];
  const of = (/** @type {string} */ name) => runs.findIndex((/** @type {any} */ run) => run.settles.includes(name));
  const last = Math.max(of("correction_in"), of("correction_out"));
  if (last >= 0) return runs[last];
  const at = (state.view?.inputs ?? []).findIndex((/** @type {any} */ input) => input.role === "input_shorted" || input.role === "output_shorted");
  return at < 0 ? null : { input: at, kind: state.view.inputs[at].role };
}
