// @ts-check
// The right column: the reading under the pointer, then what the log shows.

import { h, renderInto } from "../dom.js";
import { count, counted, fixed, pieces, quantity, span } from "../format.js";
import { isTimed } from "../run.js";
import { currentRun, set, state } from "../state.js";
import { APP_NAME, CARE_LINE, COMPARE_CANNOT, GRADE, PM_IS, PM_POINTS, REASON, UNLIKE, wordsOf } from "../text.js";
import { wrong } from "./controls.js";
import { cellReading } from "./compare.js";
import { partBars, partsOf } from "./parts.js";
import { planeLine } from "./plane.js";
import { fixtureSide } from "./fixture.js";

/** @param {number|null|undefined} value @param {number|null|undefined} [u] */
function q(value, u = null) {
  return { value: value ?? null, u: u ?? null };
}

/** @param {number|null|undefined} value @param {number} digits */
function bare(value, digits) {
  return value === null || value === undefined || !Number.isFinite(value) ? "–" : value === 0 ? "0" : fixed(value, Math.max(0, digits - 1 - Math.floor(Math.log10(Math.abs(value)))));
}

/** Text of a reading for the live region. @param {any} reading */
function readingWords(reading) {
  if (!reading) return "";
  const efficiency = quantity(q(reading.efficiency, reading.u), "%");
  const fate = reading.kept ? "" : `, out: ${reading.reasons.map((/** @type {string} */ code) => REASON[code]?.[0] ?? code).join(", ")}`;
  return `Row ${count(reading.row)}: ${efficiency} at ${bare(reading.v_in, 5)} V in, ${bare(reading.i_out, 4)} A out${fate}`;
}

function readingPanel() {
  const reading = state.reading;
  const run = currentRun();
  const grade = run?.grade;
  const scatterOnly = grade === "as_logged" || (reading && reading.u === null);
  if (!reading) {
    return h("section", { class: "reading", key: "reading" },
      h("div", { class: "over" }, h("span", null, "Under the pointer"), h("span", null, PM_POINTS)),
      h("p", { class: "note" }, "Point at a row, or move to the figure and walk with the arrow keys."),
      grade ? h("p", { class: "grade note" }, h("b", null, `${GRADE[grade][0]}. `), GRADE[grade][1]) : null);
  }
  const shown = scatterOnly ? pieces(q(reading.efficiency, reading.u_random), "%") : pieces(q(reading.efficiency, reading.u), "%");
  const parts = partsOf(reading);
  return h("section", { class: "reading", key: "reading" },
    h("div", { class: "over" }, h("span", null, state.readingFrom === "touch" ? "Under the finger" : state.readingFrom === "keys" ? "At the cursor" : "Under the pointer"),
      h("span", null, `row ${count(reading.row)}${isTimed() ? `, ${span(reading.time, true)}` : ""}`)),
    h("div", { class: "big" }, h("b", null, shown.value), shown.value === "–" ? null : h("span", null, `% ${shown.pm === null ? "" : `± ${shown.pm}`}`),
      h("small", null, "efficiency", h("br", null), scatterOnly ? "± is 95 % of scatter, in points" : PM_POINTS)),
    h("table", null,
      h("thead", null, h("tr", null, h("th", null, h("span", { class: "away" }, "side")), h("th", null, "V"), h("th", null, "A"), h("th", null, "W"))),
      h("tbody", null,
        h("tr", null, h("td", null, "In"), h("td", null, bare(reading.v_in, 5)), h("td", null, bare(reading.i_in, 4)), h("td", null, bare(reading.p_in, 4))),
        h("tr", null, h("td", null, "Out"), h("td", null, bare(reading.v_out, 4)), h("td", null, bare(reading.i_out, 5)), h("td", null, bare(reading.p_out, 4))),
        h("tr", null, h("td", null, "Loss"), h("td", { colspan: "3" }, quantity(q(reading.loss, reading.loss_u), "W"))))),
    reading.kept ? null : h("div", { class: "group" }, reading.reasons.map((/** @type {string} */ code) => wrong(`Out: ${REASON[code]?.[1] ?? wordsOf(code)}`))),
    reading.kept && reading.reasons.length ? h("p", { class: "note" }, reading.reasons.map((/** @type {string} */ code) => REASON[code]?.[1] ?? wordsOf(code)).join(" ")) : null,
    reading.interval_by === "monte_carlo" ? h("p", { class: "note" }, `So near to zero or to 100 % the interval is not even: 95 % lies between ${fixed(reading.low_95 * 100, 2)} and ${fixed(reading.high_95 * 100, 2)} % (draws, JCGM 101).`) : null,
    parts.length ? [h("p", { class: "note" }, "What the ± is made of"),
      partBars(parts)] : null,
    grade ? h("p", { class: "grade note" }, h("b", null, `${GRADE[grade][0]}. `), GRADE[grade][1]) : null,
    reading.line ? h("p", { class: "note quiet" }, `Line ${count(reading.line)} of the file.`) : null);
}

function findingsPanel() {
  const run = currentRun();
  const findings = run?.findings ?? [];
  return h("section", { key: "findings", "aria-label": "Findings" },
    h("h2", null, "What the log shows", h("small", { role: "status" }, state.early ? (state.core === "broken" ? "as saved" : "as saved; reading the logs") : state.stale ? "updating" : findings.length ? counted(findings.length, "finding") : "")),
    findings.length ? h("div", { class: state.stale && !state.early ? "findings dim" : "findings" }, findings.map((/** @type {any} */ finding, /** @type {number} */ i) => {
      const { first, rest } = splitText(finding.text);
      return h("button", { class: "finding", "aria-pressed": String(state.finding === i), key: `finding ${i}`, onclick: () => set({ finding: state.finding === i ? -1 : i, tab: state.tab === "fixture" || state.tab === "compare" ? "map" : state.tab }) },
        h("span", { class: "ring" }, String(i + 1)), h("span", null, h("b", null, first), rest ? h("small", null, rest) : null));
    })) : h("p", { class: "note" }, run ? "Nothing stands out that the rows can carry." : "No converter’s run is open yet."));
}

/** The first clause stands, the rest explains. @param {string} text */
function splitText(text) {
  const match = /^(.{16,110}?[^0-9\s])[.;:]\s+(.+)$/su.exec(text);
  if (!match) return { first: text.replace(/[.]$/, ""), rest: "" };
  return { first: match[1], rest: match[2].charAt(0).toUpperCase() + match[2].slice(1) };
}

function compareSide() {
  const pair = state.view?.comparison?.pairs?.[state.pair];
  if (!pair) return null;
  return [
    cellReading(pair),
    pair.unlike?.length ? h("section", { key: "unlike" }, h("h2", null, "Not alike"), pair.unlike.map((/** @type {string} */ code) => h("p", { class: "note" }, UNLIKE[code] ?? wordsOf(code)))) : null,
    h("section", { key: "cannot" }, h("h2", null, "What this cannot tell"), COMPARE_CANNOT.map((words) => h("p", { class: "note" }, words))),
  ];
}

/** What a sheet of paper needs besides: inputs with their hashes, the grade, the cautions. */
function printedPanel() {
  const view = state.view;
  if (!view) return null;
  return h("section", { class: "printed", key: "printed" },
    h("h2", null, "Inputs"),
    h("table", null, h("thead", null, h("tr", null, h("th", null, "file"), h("th", null, "what"), h("th", null, "rows"), h("th", null, "SHA-256"))),
      h("tbody", null, view.inputs.map((/** @type {any} */ input) => h("tr", null, h("td", null, input.name), h("td", null, wordsOf(input.role ?? "")), h("td", null, count(input.rows_found)), h("td", { class: "hash" }, input.sha256 ?? "taken when shared or saved"))))),
    view.fixture ? h("p", { class: "note" }, `Efficiency is quoted ${planeLine()}. Between sense nodes and converter: ${quantity(view.fixture.correction_in, "Ω")} at the input, ${quantity(view.fixture.correction_out, "Ω")} at the output.`) : h("p", { class: "note" }, "No calibration: as logged."),
    h("p", { class: "note" }, CARE_LINE),
    h("p", { class: "note" }, `${APP_NAME} ${view.tool?.version ?? "development"}, format ${view.schema}.`));
}

/** @param {HTMLElement} parent */
export function mountRight(parent) {
  const right = h("aside", { class: "right", own: true, "aria-label": "Reading and findings" });
  const spoken = h("div", { class: "away", role: "status", "aria-live": "polite", id: "spoken" });
  parent.append(right);
  document.body.append(spoken);
  let lastSpoken = "";
  let timer = 0;
  return () => {
    const words = state.readingFrom === "keys" ? readingWords(state.reading) : "";
    if (words !== lastSpoken) {
      lastSpoken = words;
      clearTimeout(timer);
      timer = setTimeout(() => {
        spoken.textContent = words;
      }, 120);
    }
    if (state.phase === "empty") return;
    renderInto(right, state.tab === "compare" ? compareSide() : state.tab === "fixture" ? [fixtureSide(), findingsPanel()] : [readingPanel(), findingsPanel()], h("p", { class: "note quiet", key: "pm" }, `Everywhere: ${PM_IS}, efficiency in points.`), printedPanel());
  };
}
