// @ts-check
// One log's columns as a table: name in the file, what it is, unit, what it spans; scale, sign and raw
// counts of a column in an opened detail. On a phone its rows wrap, so its roles are said outright: a browser
// forgets them where a row is laid out as anything else.

import { h } from "../dom.js";
import { count, counted, fixed, plain, sentence, shortName } from "../format.js";
import { countsOf, isReversed, scaleOf, setColumnRole, setColumnUnit, setCounts, setReversed, setScale } from "../knobs.js";
import { columnRanges } from "../rawtext.js";
import { CHANNEL, CHANNEL_UNIT, COLUMN_ROLES } from "../text.js";
import { foundRanges, namesRangeOf, rangeEditor, rangeWords } from "./log_ranges.js";
import { choiceRow, idOf, numberRow, select, switchRow } from "./controls.js";

/** Columns shown at once; the finder reaches the others. */
const AT_ONCE = 24;
const UNUSED = ["extra", "ignore"];

/** What the finder looks for, by log. @type {Map<number, string>} */
const sought = new Map();
/** How many columns are shown, by log. @type {Map<number, number>} */
const limits = new Map();
/** The column whose detail is open, by log. @type {Map<number, number>} */
const opened = new Map();

/** @param {any} column */
function isUsed(column) {
  return !UNUSED.includes(column.role ?? "extra");
}

/** Used columns first, both in the order of the file; only those that the finder finds. @param {any[]} columns @param {number} at */
function listed(columns, at) {
  const words = (sought.get(at) ?? "").trim().toLowerCase();
  const found = words ? columns.filter((column) => String(column.number) === words || (column.header ?? "").toLowerCase().includes(words)) : columns;
  return columns.length > AT_ONCE ? [...found.filter(isUsed), ...found.filter((column) => !isUsed(column))] : found;
}

/** Unit of a column's readings in SI. @param {any} column */
function unitOf(column) {
  const { role } = column;
  if (role === "temperature") return "°C";
  if (role === "time") return "s";
  if (role === "light") return column.unit;
  if (role === "p_in" || role === "p_out") return "W";
  return CHANNEL_UNIT[role] ?? (/^v_(source|load)_/.test(role) ? "V" : "");
}

/** "4.19 to 5.61 V" @param {any} column @param {any} range */
function spanWords(column, range) {
  if (!range?.range) return range && range.empty ? "no readings" : "";
  const [low, high] = range.range;
  const unit = unitOf(column);
  const big = plain(Math.max(Math.abs(low), Math.abs(high)), unit, 4);
  const [, last] = /^(.*?)( [^\d ]+)?$/.exec(big) ?? [];
  const shown = big.slice((last ?? "").length).trim();
  const factor = { mV: 1e3, mA: 1e3, mW: 1e3, "µV": 1e6, "µA": 1e6, "µW": 1e6, ms: 1e3, "µs": 1e6 }[shown] ?? 1;
  const digits = (/** @type {number} */ value) => fixed(value, decimals(Math.max(Math.abs(low), Math.abs(high)) * factor));
  return low === high ? `${digits(low * factor)} ${shown || unit} throughout` : `${digits(low * factor)} to ${digits(high * factor)} ${shown || unit}`;
}

/** @param {number} size */
function decimals(size) {
  return size >= 1000 ? 0 : size >= 100 ? 1 : size >= 10 ? 2 : size >= 1 ? 3 : 4;
}

/** @param {any} input @param {number} at @param {any} column @param {any} range @param {() => void} redraw */
function columnRow(input, at, column, range, redraw) {
  const role = column.role ?? "extra";
  const units = /** @type {string[]} */ (COLUMN_ROLES.find(([code]) => code === role)?.[2] ?? []);
  // A date has no unit; a time counted from 1970 has none that its log says.
  const dated = role === "time" && column.form === "date_time";
  const options = dated || !units.length ? [] : units.includes(column.unit ?? "") ? units : [column.unit ?? "", ...units];
  const unsaid = role === "time" ? "found" : role === "light" ? "none" : "?";
  const name = column.header || `column ${column.number}`;
  const open = opened.get(at) === column.number;
  const more = idOf(`more ${at} ${column.number}`);
  // Where the time cannot tell the rows apart they are only counted: no seconds to show.
  const timeless = role === "time" && (input.asks ?? []).some((/** @type {any} */ one) => one.code === "row_period_missing");
  const seen = timeless ? "the rows are only counted" : spanWords(column, range);
  const ranges = foundRanges(input, column);
  const [switching, apart] = ranges ? rangeWords(ranges) : [];
  const named = namesRangeOf(input, column).map((one) => CHANNEL[one] ?? one).join(", ");
  const guessedUnit = column.unit && column.unit_said === false;
  return [
    h("tr", { key: `column ${column.number}`, role: "row", class: isUsed(column) ? "used" : undefined },
      h("th", { scope: "row", role: "rowheader", title: name }, h("span", { class: "quiet" }, `${column.number} `), shortName(name, 40)),
      h("td", { role: "cell" }, select({ name: `role ${at} ${column.number}`, label: `Column ${column.number}, ${shortName(name, 40)}: what it is`, value: role, options: COLUMN_ROLES.map(([code, words]) => /** @type {[string, string]} */ ([code, words])), set: (chosen) => setColumnRole(at, column, chosen) })),
      h("td", { role: "cell" }, options.length ? select({ name: `unit ${at} ${column.number}`, label: `Column ${column.number}, ${shortName(name, 40)}: unit`, value: column.unit ?? "", options: options.map((unit) => [unit, unit || unsaid]), set: (unit) => setColumnUnit(at, column, unit) }) : null),
      h("td", { role: "cell" }, h("button", { class: "btn icon bare", "aria-expanded": String(open), "aria-controls": more, "aria-label": `More about column ${column.number}, ${shortName(name, 40)}`, onclick: () => { if (open) opened.delete(at); else opened.set(at, column.number); redraw(); } }, open ? "−" : "+"))),
    h("tr", { key: `under ${column.number}`, role: "row", class: "under" }, h("td", { colspan: "4", role: "cell", id: more },
      h("p", { class: "note" }, [seen || (column.form === "text" ? "text" : ""), named ? `names the range of ${named}` : "", switching].filter(Boolean).join("; "), apart ? h("span", { class: "out" }, `; ${apart}`) : null, range?.empty && !timeless && seen && seen !== "no readings" ? `, ${counted(range.empty, "row")} without` : "", guessedUnit ? h("span", { class: "out" }, seen || switching ? "; " : "", "unit from the size of the readings") : null),
      open ? detail(input, at, column, redraw) : null)),
  ];
}

/** @param {any} input @param {number} at @param {any} column @param {() => void} redraw */
function detail(input, at, column, redraw) {
  const unit = CHANNEL_UNIT[column.role] ?? "";
  const electric = unit === "A" || unit === "V";
  const step = input.understood?.resolution?.[column.role === "v_out" ? "v_out_high" : column.role];
  return h("div", { class: "group detail" },
    column.reason ? h("p", { class: "note" }, sentence(column.reason)) : null,
    step ? h("p", { class: "note" }, `Smallest step seen: ${plain(step, unit, 3)}.`) : null,
    electric || ["p_in", "p_out", "temperature", "light"].includes(column.role) ? numberRow({ name: `scale ${at} ${column.number}`, label: "One as logged is", unit: unit || "SI", value: scaleOf(at, column.role), empty: true, place: String(Number((column.scale ?? 1).toPrecision(4))), set: (/** @type {number|null} */ value) => setScale(at, column.role, value) }) : null,
    electric ? switchRow({ label: "Turn its sign", value: isReversed(at, column.role), set: (on) => setReversed(at, column.role, on) }) : null,
    electric ? rangeEditor(input, at, column, unit) : null,
    electric ? rawCounts(at, column, unit, redraw) : null);
}

// --- raw counts --------------------------------------------------------------------------------------

/** Raw counts that are not yet said in full. @type {Map<string, any>} */
const drafts = new Map();

/** @param {string} unit @param {any} draft */
function lacking(unit, draft) {
  return [draft.bits > 0 ? null : "bits", draft.reference > 0 ? null : "reference", unit === "A" && !(draft.shunt > 0) ? "shunt" : null].filter(Boolean);
}

/** @param {number} at @param {any} column @param {string} unit @param {() => void} redraw */
function rawCounts(at, column, unit, redraw) {
  const name = `${at} ${column.role}`;
  const set = countsOf(at, column.role);
  const draft = set ?? drafts.get(name) ?? {};
  const change = (/** @type {any} */ part) => {
    const next = { role: column.role, bits: null, signed: false, reference: null, divider: null, shunt: null, gain: 1, zero: 0, logged: null, ...draft, ...part };
    if (lacking(unit, next).length) {
      drafts.set(name, next);
      if (set) setCounts(at, column.role, null);
      else redraw();
      return;
    }
    drafts.delete(name);
    setCounts(at, column.role, next);
  };
  const field = (/** @type {string} */ key, /** @type {string} */ label, /** @type {string} */ of, /** @type {any} */ more = {}) => numberRow({ name: `${key} ${name}`, label, unit: of, value: draft[key] ?? null, least: 0, empty: true, place: more.place ?? "not said", ...more, set: more.set ?? ((/** @type {number|null} */ value) => change({ [key]: value })) });
  const [upper, lower] = draft.divider ?? [null, null];
  const divider = (/** @type {number} */ side) => (/** @type {number|null} */ value) => {
    const next = [upper, lower];
    next[side] = value;
    if (next[0] !== null && next[1] !== null) change({ divider: next, upper: undefined, lower: undefined });
    else {
      drafts.set(name, { ...draft, role: column.role, divider: next });
      redraw();
    }
  };
  const missing = lacking(unit, draft);
  return h("details", { key: `counts ${name}` }, h("summary", null, set ? "Raw counts: stated" : "Raw counts of a converter"),
    h("div", { class: "group" },
      field("bits", "Bits", "", { most: 32, set: (/** @type {number|null} */ bits) => change({ bits: bits === null ? null : Math.round(bits) }) }),
      switchRow({ label: "Signed: one bit is the sign", value: draft.signed ?? false, set: (signed) => change({ signed }) }),
      field("reference", "Reference", "V"),
      unit === "V" ? [
        numberRow({ name: `upper ${name}`, label: "Divider, upper", unit: "Ω", value: upper, least: 0, empty: true, place: "none", set: divider(0) }),
        numberRow({ name: `lower ${name}`, label: "Divider, lower", unit: "Ω", value: lower, least: 0, empty: true, place: "none", set: divider(1) })]
        : field("shunt", "Shunt", "Ω"),
      field("gain", "Amplifier gain", "", { place: "1", set: (/** @type {number|null} */ gain) => change({ gain: gain ?? 1 }) }),
      field("zero", "Count at nothing applied", "", { place: "0", least: -1e10, set: (/** @type {number|null} */ zero) => change({ zero: zero ?? 0 }) }),
      choiceRow({ name: `logged ${name}`, label: "The log holds", value: draft.logged ?? "", options: [["", "found"], ["counts", "counts"], ["units", unit]], set: (/** @type {string} */ logged) => change({ logged: logged === "" ? null : logged }) }),
      set ? h("button", { class: "btn", onclick: () => setCounts(at, column.role, null) }, "Forget them")
        : h("p", { class: "note" }, missing.length ? `Still needed: ${missing.join(", ")}. ` : "", "They give one count’s value and the resolution that goes into the ±.")));
}

// --- the table ---------------------------------------------------------------------------------------

/** @param {any} input @param {number} at @param {() => void} redraw */
export function columnTable(input, at, redraw) {
  const columns = input.understood?.columns ?? [];
  if (!columns.length) return null;
  const list = listed(columns, at);
  const limit = columns.length > AT_ONCE ? limits.get(at) ?? AT_ONCE : columns.length;
  const shown = list.slice(0, limit);
  const ranges = columnRanges(at);
  const rangeOf = (/** @type {any} */ column) => (Array.isArray(ranges) ? ranges[column.number - 1] : null);
  const finder = idOf(`finder ${at}`);
  return h("div", { class: "group", key: `columns ${at}` },
    columns.length > AT_ONCE ? h("div", { class: "row" }, h("label", { for: finder }, "Find a column"),
      h("input", { id: finder, class: "field", type: "search", value: sought.get(at) ?? "", placeholder: "name or number", autocomplete: "off", spellcheck: "false", oninput: (/** @type {any} */ event) => { sought.set(at, event.target.value); limits.delete(at); redraw(); } })) : null,
    h("table", { class: "columns", role: "table" }, h("caption", { class: "away" }, "Columns of the log"),
      h("thead", { role: "rowgroup" }, h("tr", { role: "row" }, ["column", "is", "unit", h("span", { class: "away" }, "more")].map((words) => h("th", { scope: "col", role: "columnheader" }, words)))),
      h("tbody", { role: "rowgroup" }, shown.map((column) => columnRow(input, at, column, rangeOf(column), redraw)))),
    list.length > shown.length ? h("div", { class: "row" }, h("span", { class: "note", role: "status" }, `${count(shown.length)} of ${count(list.length)} columns${sought.get(at) ? " found" : ""}, used ones first`), h("button", { class: "btn", onclick: () => { limits.set(at, limit + 2 * AT_ONCE); redraw(); } }, "More columns")) : null,
    columns.length > AT_ONCE && !list.length ? h("p", { class: "note", role: "status" }, "No column is called so.") : null);
}
