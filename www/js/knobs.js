// @ts-check
// Where each control's setting lives in the bench's settings: one table, so that panels name what they
// move and nothing else knows the shape.

import { changeSettings, readPath, state, writePath } from "./state.js";

/** Dotted paths of the settings that have a control. */
export const KNOB = {
  leastRows: "sieve.least_rows",
  cells: "sieve.cells",
  sieveOn: "sieve.gates.rare",
  settledPoints: "sieve.settled_points",
  vote: "sieve.vote",
  gates: "sieve.gates",
  offBelow: "sieve.off_below",
  supplyLimit: "sieve.supply_limit",
  settle: "sieve.settle",
  delays: "align.mode",
  delaySeconds: "align.seconds",
  inputSense: "fixture.input_sense",
  outputSense: "fixture.output_sense",
  inputShunt: "fixture.input_shunt",
  outputShunt: "fixture.output_shunt",
  jumper: "fixture.jumper",
  contacts: "fixture.contacts",
  sharedGround: "fixture.shared_ground",
  commonPositive: "fixture.common_positive",
  givenIn: "fixture.input_correction",
  givenOut: "fixture.output_correction",
  channels: "fixture.channels",
  replug: "compare.replug",
  noDifference: "compare.no_difference_below",
};

/** The value a control shows. @param {string} path @param {any} [otherwise] */
export function knob(path, otherwise) {
  const value = readPath(state.settings, path);
  return value === undefined ? otherwise : value;
}

/** Whether the core has this setting at all. @param {string} path */
export function hasKnob(path) {
  return readPath(state.settings, path) !== undefined;
}

/** Moves a control. @param {string} path @param {any} value @param {string} card */
export function turn(path, value, card) {
  changeSettings(path, (settings) => writePath(settings, path, value), card);
}

/** Reads a quantity that may be stored as `{value, u}`, as a bare number or as nothing. @param {string} path */
export function readQ(path) {
  const stored = knob(path, null);
  if (stored === null) return { value: null, u: null };
  if (typeof stored === "number") return { value: stored, u: null };
  return { value: stored.value ?? null, u: stored.u ?? null };
}

/** @param {string} path @param {number|null} value @param {number|null} u @param {string} card */
export function turnQ(path, value, u, card) {
  turn(path, value === null ? null : { value, u }, card);
}

/** What the settings say of one input, made where nothing is said yet. @param {any} settings @param {number} input */
function saidOf(settings, input) {
  settings.inputs ??= [];
  while (settings.inputs.length <= input) settings.inputs.push({});
  return settings.inputs[input];
}

/** @param {number} input @param {string|null} role null leaves it to the content */
export function setInputRole(input, role) {
  changeSettings(`role ${input}`, (settings) => {
    saidOf(settings, input).kind = role;
  }, "log");
}

/** @param {number} input @returns {number|null} */
export function inputResistor(input) {
  return inputResistorQ(input).value;
}

/** The stated resistor of one input. @param {number} input @returns {{value: number|null, u: number|null}} */
export function inputResistorQ(input) {
  const said = state.settings?.inputs?.[input]?.resistor ?? null;
  if (said === null) return { value: null, u: null };
  return typeof said === "number" ? { value: said, u: null } : { value: said.value ?? null, u: said.u ?? null };
}

/** @param {number} input @param {number|null} value @param {number|null} u */
export function setInputResistorQ(input, value, u) {
  changeSettings(`resistor ${input}`, (settings) => {
    saidOf(settings, input).resistor = value === null ? null : { value, u };
  }, "fixture");
}

/** Says one thing more of a calibration input. @param {number} input @param {string} key @param {any} value */
export function setInputSaid(input, key, value) {
  changeSettings(`${key} ${input}`, (settings) => {
    saidOf(settings, input)[key] = value;
  }, "fixture");
}

/** The value alone; what was said of its ± stays. @param {number} input @param {number|null} value */
export function setInputResistor(input, value) {
  setInputResistorQ(input, value, inputResistorQ(input).u);
}

/** The channel settings of one input, made where nothing is said yet. @param {any} settings @param {number} input */
function columnsOf(settings, input) {
  const said = saidOf(settings, input);
  said.columns ??= {};
  said.columns.columns ??= [];
  said.columns.units ??= [];
  said.columns.reverse ??= [];
  return said.columns;
}

/** Says what a column means. @param {number} input @param {any} column @param {string} role */
export function setColumnRole(input, column, role) {
  changeSettings(`column ${input} ${column.number}`, (settings) => {
    const said = columnsOf(settings, input);
    said.columns = said.columns.filter((/** @type {any} */ one) => one.column !== column.number);
    said.columns.push({ column: column.number, role });
  }, "log");
}

/** Says the unit of the column that has a role. @param {number} input @param {any} column @param {string} unit */
export function setColumnUnit(input, column, unit) {
  changeSettings(`unit ${input} ${column.number}`, (settings) => {
    const said = columnsOf(settings, input);
    said.units = said.units.filter((/** @type {any} */ one) => one.role !== column.role);
    said.units.push({ role: column.role, unit });
  }, "log");
}

/** @param {number} input @param {string} role */
export function isReversed(input, role) {
  return (state.settings?.inputs?.[input]?.columns?.reverse ?? []).includes(role);
}

/** Turns the sign of the column that has a role. @param {number} input @param {string} role @param {boolean} on */
export function setReversed(input, role, on) {
  changeSettings(`reverse ${input} ${role}`, (settings) => {
    const said = columnsOf(settings, input);
    said.reverse = said.reverse.filter((/** @type {any} */ one) => one !== role);
    if (on) said.reverse.push(role);
  }, "log");
}

/** Says the roles of several columns at once. @param {number} input @param {[string, number][]} roles */
export function setRoles(input, roles) {
  changeSettings(`roles ${input}`, (settings) => {
    const said = columnsOf(settings, input);
    const given = new Set(roles.map(([, number]) => number));
    said.columns = [...said.columns.filter((/** @type {any} */ one) => !given.has(one.column)), ...roles.map(([role, column]) => ({ column, role }))];
  }, "log");
}

/** What stands on the other side. @type {Record<string, string>} */
const OTHER_SIDE = { v_in: "v_out", v_out: "v_in", v_out_high: "v_in", i_in: "i_out", i_out: "i_in", p_in: "p_out", p_out: "p_in" };

/** Gives the columns of input and output the other way round. @param {number} input @param {any[]} columns */
export function exchangeSides(input, columns) {
  const nodes = columns.some((column) => column.role === "v_out_high");
  const roles = columns.flatMap((column) => {
    const other = column.role === "v_in" && nodes ? "v_out_high" : OTHER_SIDE[column.role];
    return other ? [/** @type {[string, number]} */ ([other, column.number])] : [];
  });
  setRoles(input, roles);
}

/** What one list of an input's channel settings says of a role. @param {number} input @param {"scales"|"counts"|"ranges"} list @param {string} role */
function saidOfRole(input, list, role) {
  return (state.settings?.inputs?.[input]?.columns?.[list] ?? []).find((/** @type {any} */ one) => one.role === role) ?? null;
}

/** Says it anew; null takes it out. @param {number} input @param {"scales"|"counts"|"ranges"} list @param {string} role @param {any} what */
function sayOfRole(input, list, role, what) {
  changeSettings(`${list} ${input} ${role}`, (settings) => {
    const said = columnsOf(settings, input);
    said[list] = (said[list] ?? []).filter((/** @type {any} */ one) => one.role !== role);
    if (what) said[list].push(what);
  }, "log");
}

/** @param {number} input @param {string} role @returns {number|null} */
export function scaleOf(input, role) {
  return saidOfRole(input, "scales", role)?.scale ?? null;
}

/** Says what one as logged is in SI units; null leaves it to the unit. @param {number} input @param {string} role @param {number|null} scale */
export function setScale(input, role, scale) {
  sayOfRole(input, "scales", role, scale === null ? null : { role, scale });
}

/** How the raw counts of a role's column come about. @param {number} input @param {string} role */
export function countsOf(input, role) {
  return saidOfRole(input, "counts", role);
}

/** Says it; null forgets it. @param {number} input @param {string} role @param {any} counts */
export function setCounts(input, role, counts) {
  sayOfRole(input, "counts", role, counts);
}

/** How a role's channel switches its range, as stated. @param {number} input @param {string} role */
export function rangesOf(input, role) {
  return saidOfRole(input, "ranges", role);
}

/** Says it; null leaves it to the content. @param {number} input @param {string} role @param {any} ranges */
export function setRanges(input, role, ranges) {
  sayOfRole(input, "ranges", role, ranges);
}

/** How an input hangs together with the run before it. @param {number} input @returns {"alone"|"continues"|"beside"} */
export function isJoined(input) {
  const said = state.settings?.inputs?.[input];
  return said?.beside ? "beside" : said?.continues ? "continues" : "alone";
}

/** @param {number} input @param {string} how */
export function joinTo(input, how) {
  changeSettings(`joined ${input}`, (settings) => {
    Object.assign(saidOf(settings, input), { continues: how === "continues", beside: how === "beside" });
  }, "log");
}

/** @param {number} input @returns {string|null} */
export function runNameOf(input) {
  return state.settings?.inputs?.[input]?.run ?? null;
}

/** @param {number} input @param {string|null} name */
export function setRunName(input, name) {
  changeSettings(`run ${input}`, (settings) => {
    saidOf(settings, input).run = name;
  }, "log");
}

/** Says how much time lies between rows of a log without a usable time. @param {number} input @param {number|null} seconds */
export function setRowPeriod(input, seconds) {
  changeSettings(`period ${input}`, (settings) => {
    columnsOf(settings, input).row_period = seconds;
  }, "log");
}

/** @param {number} input */
export function rowPeriod(input) {
  return state.settings?.inputs?.[input]?.columns?.row_period ?? null;
}

/** How the text of one input is read. @param {number} input @param {string} key */
export function readingOf(input, key) {
  return state.settings?.inputs?.[input]?.read?.[key] ?? null;
}

/** @param {number} input @param {string} key @param {any} value */
export function setReadingOf(input, key, value) {
  changeSettings(`${key} ${input}`, (settings) => {
    const said = saidOf(settings, input);
    said.read ??= {};
    said.read[key] = value;
  }, "log");
}
