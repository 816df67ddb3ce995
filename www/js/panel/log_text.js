// @ts-check
// One log's text: how it is read and why, its first and worst rows as they stand, what could not be read.

import { h } from "../dom.js";
import { count, counted, sentence, shortName } from "../format.js";
import { readingOf, setReadingOf } from "../knobs.js";
import { firstRows, headLines, worstRows } from "../rawtext.js";
import { PROBLEM, SEPARATORS, TEXT_SHAPES, ENCODINGS, wordsOf } from "../text.js";
import { numberRow, select, wrong } from "./controls.js";

// --- how it is read --------------------------------------------------------------------------------

/** The evidence that speaks of something. @param {any} input @param {RegExp} about */
function evidenceOf(input, about) {
  return (input.understood?.evidence ?? []).filter((/** @type {string} */ clause) => about.test(clause));
}

/** @param {number} at @param {string} key @param {string} label @param {[string, string][]} options @param {string[]} evidence */
function dialect(at, key, label, options, evidence) {
  const value = readingOf(at, key);
  return [
    h("div", { class: "row" }, h("span", null, label), select({ name: `${key} ${at}`, label, value: value ?? "", options: [["", "found"], ...options], set: (chosen) => setReadingOf(at, key, chosen === "" ? null : chosen) })),
    evidence.map((clause) => h("p", { class: "note why" }, sentence(clause))),
  ];
}

/** In a few words, as it stands in the closed card. @param {any} input */
export function readWords(input) {
  const read = input.understood ?? {};
  const name = SEPARATORS.find(([code]) => code === read.separator)?.[1];
  const shape = read.shape && read.shape !== "delimited" ? TEXT_SHAPES.find(([code]) => code === read.shape)?.[1] : null;
  return [shape ?? (name ? `${name} between columns` : null), read.decimal_mark === "," ? "decimal comma" : read.decimal_mark === "." ? "decimal point" : null, read.encoding?.replace("windows", "Windows")].filter(Boolean).join(", ").replaceAll("-", "\u2011");
}

/** @param {any} input @param {number} at */
export function howRead(input, at) {
  const header = readingOf(at, "header_row");
  const headerLine = typeof header === "object" && header !== null ? header.line : null;
  const lines = input.understood?.header_lines ?? null;
  const others = (input.understood?.evidence ?? []).filter((/** @type {string} */ clause) => !/^(separator|decimal mark|encoding|character|header|names|column names)/i.test(clause));
  const mends = input.outcome === "refused";
  return h("details", { key: `read ${at}`, open: mends ? true : undefined }, h("summary", null, "How the text is read: ", readWords(input) || "not told"),
    h("div", { class: "group" },
      dialect(at, "separator", "Between columns", SEPARATORS, evidenceOf(input, /^separator/i)),
      dialect(at, "decimal_mark", "Decimal mark", [[".", "point"], [",", "comma"]], evidenceOf(input, /^decimal mark/i)),
      dialect(at, "encoding", "Encoding", ENCODINGS, evidenceOf(input, /^(encoding|character)/i)),
      dialect(at, "shape", "Form of a row", TEXT_SHAPES, []),
      h("div", { class: "row" }, h("span", null, "Names of columns"), select({ name: `header ${at}`, label: "Where the names of the columns stand", value: headerLine !== null ? "line" : header ?? "auto", options: [["auto", "found"], ["none", "nowhere"], ["line", "on a line"]], set: (value) => setReadingOf(at, "header_row", value === "line" ? { line: lines?.[0] ?? 1 } : value) })),
      headerLine !== null ? numberRow({ name: `header line ${at}`, label: "Line of the names", value: headerLine, least: 1, most: 1e6, set: (/** @type {number|null} */ line) => line !== null && setReadingOf(at, "header_row", { line: Math.round(line) }) }) : null,
      headerLine === null && lines && !mends ? h("p", { class: "note why" }, lines.length ? `Found on line ${lines.map(count).join(" and ")}.` : "None were found: columns are numbered.") : null,
      evidenceOf(input, /^(header|names|column names)/i).map((/** @type {string} */ clause) => h("p", { class: "note why" }, sentence(clause))),
      numberRow({ name: `skip ${at}`, label: "Lines passed over first", value: readingOf(at, "skip_lines") || null, least: 0, most: 1e6, empty: true, place: "0", set: (/** @type {number|null} */ lines) => setReadingOf(at, "skip_lines", Math.round(lines ?? 0)) }),
      others.map((/** @type {string} */ clause) => h("p", { class: "note" }, sentence(clause)))));
}

// --- rows as they stand -----------------------------------------------------------------------------

/** First rows shown before more are wanted. */
const FEW = 4;
/** As many rows as the core keeps the text of. */
const MANY = 20;
/** Columns of the text that are shown; a log of hundreds would swamp the page. */
const WIDEST = 40;
/** Cells longer than this may be cut short; they can be pointed at. */
const LONG_CELL = 28;

/** What is said of single cells, by line and column. @param {any} input @returns {Map<string, any>} */
function saidOfCells(input) {
  const said = new Map();
  for (const problem of input.problems ?? []) for (const at of problem.examples ?? []) if (at.line) said.set(`${at.line} ${at.column ?? ""}`, { ...at, code: problem.code });
  return said;
}

/** @param {any} at */
function cellWords(at) {
  return [at.expected ? `Expected ${at.expected}.` : "", sentence(at.hint)].filter(Boolean).join(" ");
}

/** @param {any} row @param {Map<string, any>} said @param {number} columns */
function textRow(row, said, columns) {
  const whole = said.get(`${row.line} `);
  const marked = new Set(row.marked ?? []);
  return h("tr", { class: row.problem ? "lost" : undefined },
    h("th", { scope: "row", title: whole ? cellWords(whole) : undefined }, count(row.line), row.problem ? h("span", { class: "cross" }, " ×", h("span", { class: "away" }, " not all read")) : null),
    row.cells.slice(0, columns).map((/** @type {string} */ cell, /** @type {number} */ place) => {
      const at = said.get(`${row.line} ${place + 1}`);
      const bad = at || marked.has(place + 1);
      return h("td", { class: bad ? "badcell" : undefined, title: at ? cellWords(at) : cell.length > LONG_CELL ? cell : undefined }, cell === "" && bad ? "nothing" : cell, bad ? h("span", { class: "away" }, ` (${PROBLEM[at?.code]?.[0] ?? "not read"})`) : null);
    }));
}

/** @param {any} answer @param {string} label @param {Map<string, any>} said */
function rowsTable(answer, label, said) {
  const columns = Math.min(WIDEST, Math.max(answer.headers.length, ...answer.rows.map((/** @type {any} */ row) => row.cells.length)));
  const headers = [...answer.headers.slice(0, columns)];
  while (headers.length < columns) headers.push("");
  return h("div", { class: "scroll text", tabindex: "0", role: "group", "aria-label": label }, h("table", null,
    h("thead", null, h("tr", null, h("th", { scope: "col" }, "line"), headers.map((name) => h("th", { scope: "col" }, shortName(name, 24))))),
    h("tbody", null, answer.rows.map((/** @type {any} */ row) => textRow(row, said, columns)))));
}

/** Logs of which many first rows are shown. @type {Set<number>} */
const wide = new Set();

/** First and worst rows. @param {any} input @param {number} at @param {() => void} redraw */
export function rowsAsTheyStand(input, at, redraw) {
  const said = saidOfCells(input);
  if (input.outcome === "refused" || !input.rows_found) {
    const head = headLines(at);
    return head?.lines?.length ? h("div", { class: "group", key: `head ${at}` }, h("h4", null, "Its first lines"),
      h("ol", { class: "rawlines" }, head.lines.map((line) => h("li", null, line || "\u00a0")))) : null;
  }
  const kept = firstRows(at);
  const first = kept?.rows ? { ...kept, rows: kept.rows.slice(0, wide.has(at) ? MANY : FEW) } : kept;
  const worst = worstRows(at);
  const failed = first?.failed ?? null;
  return h("div", { class: "group", key: `rows ${at}` },
    h("h4", null, "First rows, as they stand"),
    failed ? wrong(failed.message, failed.hint) : first ? rowsTable(first, "First rows of the log", said) : h("p", { class: "note" }, "Fetching the text …"),
    first && input.understood?.columns?.length > WIDEST ? h("p", { class: "note" }, `The first ${WIDEST} of ${count(input.understood.columns.length)} columns.`) : null,
    first && !failed && input.rows_found > FEW ? h("button", { class: "btn small", onclick: () => { if (wide.has(at)) wide.delete(at); else wide.add(at); redraw(); } }, wide.has(at) ? "Fewer rows" : "More rows") : null,
    worst?.rows?.length ? [h("h4", null, worst.rows.length === 1 ? "The row in which something was lost" : `The first ${worst.rows.length} rows in which something was lost`), rowsTable(worst, "Rows in which something was lost", said)] : null);
}

// --- what could not be read --------------------------------------------------------------------------

/** @param {any} at @param {any} input */
function place(at, input) {
  const header = at.header ?? (at.column ? input.understood?.columns?.[at.column - 1]?.header : null);
  const where = [at.line ? `Line ${count(at.line)}` : null, at.column ? `column ${at.column}${header ? ` “${shortName(header, 24)}”` : ""}` : null].filter(Boolean).join(", ");
  const found = at.found === null || at.found === "" ? "nothing" : at.column ? `“${shortName(String(at.found), 48)}”` : shortName(String(at.found), 80);
  const words = `found ${found}${at.expected ? `, expected ${at.expected}` : ""}.`;
  return where ? `${where}: ${words}` : sentence(words);
}

/** @param {any} problem @param {any} input @param {any} act */
function problemItem(problem, input, act) {
  const shown = problem.examples ?? [];
  const [title, does] = PROBLEM[problem.code] ?? [wordsOf(problem.code), ""];
  return h("li", { key: problem.code },
    h("p", null, h("b", null, title), h("span", { class: "out" }, ` × ${count(problem.count)}`)),
    does ? h("p", { class: "note" }, does) : null,
    shown.map((/** @type {any} */ at, /** @type {number} */ i) => [h("p", { class: "at" }, place(at, input)), at.hint && at.hint !== shown[i + 1]?.hint ? h("p", { class: "note why" }, sentence(at.hint.replace(/\s*\(--[^)]*\)/g, ""))) : null]),
    problem.count > shown.length && shown.length ? h("p", { class: "note" }, `and ${counted(problem.count - shown.length, "more", "more")} of this kind.`) : null,
    act);
}

/** Problems by kind, with what can be done at once. @param {any} input @param {number} at @param {Record<string, any>} acts by code */
export function problemList(input, at, acts) {
  const problems = input.problems ?? [];
  if (!problems.length) return input.outcome === "refused" ? null : h("p", { class: "note" }, "Every line was read.");
  return h("details", { key: `problems ${at}`, class: "problems" }, h("summary", null, problems.length === 1 ? "What could not be read as it stands" : `What could not be read as it stands: ${problems.length} kinds`),
    h("ul", { class: "group" }, problems.map((/** @type {any} */ problem) => problemItem(problem, input, acts[problem.code] ?? null))));
}
