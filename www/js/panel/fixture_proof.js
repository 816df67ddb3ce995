// @ts-check
// How do we know: residuals with their likely cause, acceptance by current, what each run determines,
// free checks, covariance.

import { h } from "../dom.js";
import { count, counted, fixed, plain, quantity, sentence, shortName } from "../format.js";
import { drawBands, drawResidual } from "../figure/small.js";
import { CALIBRATION_RUNS, CAUSE, runText, unitOf, unknownWords } from "../text_fixture.js";
import { table, wrong } from "./controls.js";
import { planeLine } from "./plane.js";
import { svgButton } from "./vector.js";
import { inputOf, settledBy, sharesGround, wouldSettle } from "./fixture_known.js";

/** Straight-through efficiency by band, as logged and corrected. @param {any[]} bands */
export function bandTable(bands) {
  return table(["current", "as logged / %", "corrected / %, ± points", "rows"], bands.map((band) => [`${plain(band.i_from, "A", 2)} to ${plain(band.i_to, "A", 2)}`, band.as_logged === null ? "–" : fixed(band.as_logged * 100, 2), quantity(band.efficiency, "%").replace(" %", ""), count(band.n)]), "facts", "Straight-through efficiency by current");
}

/** Acceptance: figure and table. @param {any} fixture */
export function acceptanceSheet(fixture) {
  const bands = fixture?.acceptance ?? [];
  if (!bands.length) return h("p", { class: "note" }, "No straight-through run is at hand, so there is nothing to try the correction on.");
  const from = fixture.acceptance_from;
  return h("div", { class: "group" },
    h("p", { class: "note" }, from === "held_back" ? "From a run that the fit did not use." : "From runs that the fit used itself: a run held back would be the better test."),
    h("div", { class: "small mid" }, h("canvas", { role: "img", "aria-label": "Straight-through efficiency by current after correction; the table has the values.", draw: (/** @type {HTMLCanvasElement} */ canvas) => drawBands(canvas, bands) })),
    svgButton({ what: "straight-through", title: "Straight-through efficiency by current, corrected", lines: [`Efficiency in %, current in A; bars are 95 %. Corrected ${planeLine()}; 100 % is right.`, from === "held_back" ? "From a run that the fit did not use." : "From runs that the fit used itself."] }),
    bandTable(bands));
}

/** What is left after correction, as figures, with the likely cause. @param {any} fixture */
export function residualSheet(fixture) {
  const residuals = (fixture?.residuals ?? []).filter((/** @type {any} */ one) => one.points?.length);
  return h("div", { class: "group" },
    residuals.length ? h("p", { class: "note" }, h("span", { class: "key dot" }), "current rising ", h("span", { class: "key dot open" }), "current falling; what is left must not tell them apart.") : null,
    residuals.map((/** @type {any} */ one) => h("div", { class: "pair", key: `residual ${one.input}` },
      h("div", null, h("h4", null, `${shortName(inputOf(one.input)?.name ?? "recorded run", 30)}, against current`), h("div", { class: "small mid" }, h("canvas", { role: "img", "aria-label": "What is left of the straight-through efficiency after correction, against current, rising and falling apart.", draw: (/** @type {HTMLCanvasElement} */ canvas) => drawResidual(canvas, one, "i") })), residualFile(one, "current")),
      h("div", null, h("h4", null, "against time"), h("div", { class: "small mid" }, h("canvas", { role: "img", "aria-label": "What is left of the straight-through efficiency after correction, against time.", draw: (/** @type {HTMLCanvasElement} */ canvas) => drawResidual(canvas, one, "time") })), residualFile(one, "time")))),
    shapeSheet(fixture));
}

/** @param {any} one @param {string} against */
function residualFile(one, against) {
  return svgButton({ what: `residual-${one.input}-${against}`, title: `Straight-through run, what is left against ${against}`, lines: [`${inputOf(one.input)?.name ?? "Recorded run"}: corrected efficiency less 100 %, in points, ${planeLine()}. Filled: current rising; hollow: falling.`] });
}

/** Shapes of the residuals, each with its likely cause. @param {any} fixture */
function shapeSheet(fixture) {
  const shapes = fixture?.residual_shape ?? [];
  const looked = fixture?.shapes_looked_for ?? [];
  const name = (/** @type {string} */ code) => CAUSE[code]?.[0] ?? code.replaceAll("_", " ");
  return h("div", { class: "group", id: "shapes" },
    shapes.length ? shapes.map((/** @type {any} */ one) => h("div", { class: "refusal" }, h("p", null, h("b", null, `Likely: ${name(one.cause).toLowerCase()}. `), sentence(one.evidence)), one.cure || CAUSE[one.cause] ? h("p", { class: "note" }, sentence(one.cure || CAUSE[one.cause][1])) : null)) : h("p", null, looked.length || fixture?.acceptance?.length ? "No shape stands out of the noise in what is left after correction." : "No straight-through run: there are no residuals to look at."),
    looked.length ? h("p", { class: "note" }, `Looked for: ${looked.map((/** @type {string} */ code) => name(code).toLowerCase()).join("; ")}.`) : null);
}

/** Columns of the table of runs against unknowns. */
const COLUMNS = ["voltage_gain_ratio", "current_gain_ratio", "offsets", "correction_sum", "correction_in", "correction_out", "contacts"];
const CONTACTS = ["in_high", "in_low", "out_high", "out_low"];

/** Whether a list of names holds an unknown. @param {string[]} names @param {string} column */
function holds(names, column) {
  if (column === "contacts") return CONTACTS.every((piece) => names.includes(piece));
  return names.includes(column);
}

/** @param {any} fixture */
export function matrixSheet(fixture) {
  const runs = fixture?.circuit?.runs ?? [];
  const have = new Set(runs.map((/** @type {any} */ run) => run.kind));
  const shared = sharesGround();
  const low = [...runs.map(settledBy), ...CALIBRATION_RUNS.map((one) => wouldSettle(one.kind))].flat().includes("low_gain_ratio");
  const columns = [...COLUMNS.slice(0, 1), ...(low ? ["low_gain_ratio"] : []), ...COLUMNS.slice(1), ...(shared ? ["shared_ground"] : [])];
  const dot = (/** @type {boolean} */ yes) => (yes ? h("span", { class: "key dot", role: "img", "aria-label": "determines" }) : null);
  const ring = (/** @type {boolean} */ yes) => (yes ? h("span", { class: "key ringed", role: "img", "aria-label": "would settle" }) : null);
  /** @type {Record<string, any>} */
  const values = {
    voltage_gain_ratio: quantity(fixture?.voltage_gain_ratio, ""), current_gain_ratio: quantity(fixture?.current_gain_ratio, ""), correction_sum: quantity(fixture?.sums?.path, "Ω"),
    correction_in: quantity(fixture?.correction_in, "Ω"), correction_out: quantity(fixture?.correction_out, "Ω"), shared_ground: quantity(fixture?.circuit?.segments?.find((/** @type {any} */ one) => one.name === "shared_ground")?.resistance, "Ω"),
  };
  return [
    h("div", { class: "widetable", tabindex: "0", role: "group", "aria-label": "What each run determines" }, h("table", { class: "matrix" },
      h("thead", null, h("tr", null, h("th", { scope: "col" }, "run"), h("th", { scope: "col" }, "rows"), columns.map((name) => h("th", { scope: "col" }, unknownWords(name))))),
      h("tbody", null,
        runs.map((/** @type {any} */ run) => {
          const input = inputOf(run.input);
          return h("tr", null, h("td", { title: input?.name }, runText(run.kind)?.name ?? run.kind, h("span", { class: "note" }, ` ${shortName(input?.name ?? "", 22)}`)), h("td", null, count(input?.rows_usable)), columns.map((name) => h("td", null, dot(holds(settledBy(run), name)))));
        }),
        CALIBRATION_RUNS.filter((one) => !have.has(one.kind)).map((one) => h("tr", null, h("td", { class: "quiet" }, one.name), h("td", { class: "quiet" }, "–"), columns.map((name) => h("td", null, ring(holds(wouldSettle(one.kind), name))))))),
      h("tfoot", null, h("tr", null, h("td", null, "Result"), h("td", null, ""), columns.map((name) => h("td", null, name === "offsets" ? "taken out" : name === "contacts" ? "" : values[name] ?? "–")))))),
    h("p", { class: "note" }, h("span", { class: "key dot" }), "settles, with the runs above it ", h("span", { class: "key ringed" }), "would settle"),
    (fixture?.null_space ?? []).map((/** @type {any} */ one) => h("p", { class: "note" }, sentence(one.words))),
  ];
}

/** Checks that need no extra run. @param {any} fixture */
export function checkSheet(fixture) {
  const regulators = fixture?.checks?.linear_regulator ?? [];
  const contacts = fixture?.checks?.contacts ?? [];
  if (!regulators.length && !contacts.length) return h("p", { class: "note" }, "No open run allows one: a linear regulator’s run bounds the ratio of the currents, and a run that logs the output’s low node watches two contacts.");
  return h("div", { class: "group" },
    regulators.map((/** @type {any} */ one) => h("div", { class: "refusal" }, h("p", null, h("b", null, `${one.run}, a linear regulator. `), sentence(one.words)), h("p", { class: "note" }, `Output by input current ${quantity(one.current_ratio, "")}; its own need ${quantity(one.own_current, "A")}; ${counted(one.n, "row")}.`))),
    contacts.length ? [table(["run", "out −", "in −", "out − drift", "in − drift", "verdict"], contacts.map((/** @type {any} */ one) => [one.run, quantity(one.out_low, "Ω"), quantity(one.in_low, "Ω"), quantity(one.out_low_drift, "Ω"), quantity(one.in_low_drift, "Ω"), one.verdict.replaceAll("_", " ")]), "facts", "Contacts watched in ordinary runs"), contacts.map((/** @type {any} */ one) => (one.verdict === "steady" ? h("p", { class: "note" }, sentence(one.words)) : wrong(sentence(one.words))))] : null);
}

/** Standard uncertainties and correlations of the parameters. @param {any} fixture */
export function covarianceSheet(fixture) {
  const names = fixture?.parameters ?? [];
  const correlation = fixture?.correlation ?? [];
  const used = names.map((/** @type {string} */ name, /** @type {number} */ i) => ({ name, i })).filter((/** @type {any} */ one) => correlation[one.i]?.[one.i] === 1);
  if (!used.length) return h("p", { class: "note" }, "Nothing is known with an uncertainty.");
  return [
    h("p", { class: "note" }, "Correlation of what the correction uses: 1 moves together, −1 against each other. It decides what cancels in an efficiency and in a difference of two runs."),
    h("div", { class: "scroll", tabindex: "0", role: "group", "aria-label": "Correlations" }, table(["", ...used.map((/** @type {any} */ one) => unknownWords(one.name))], used.map((/** @type {any} */ line) => [unknownWords(line.name), ...used.map((/** @type {any} */ one) => (one.i > line.i ? "" : fixed(correlation[line.i][one.i], 2)))]), "", "Correlations of the parameters")),
    table(["parameter", "value ± 95 %"], used.map((/** @type {any} */ one) => [unknownWords(one.name), quantity(fixture.values?.[one.i] ?? null, unitOf(one.name))]), "facts", "Parameters"),
  ];
}
