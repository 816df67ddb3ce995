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

/** @param {number} input @param {string} role */
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
  }, "channels");
}

/** Says the unit of the column that has a role. @param {number} input @param {any} column @param {string} unit */
export function setColumnUnit(input, column, unit) {
  changeSettings(`unit ${input} ${column.number}`, (settings) => {
    const said = columnsOf(settings, input);
    said.units = said.units.filter((/** @type {any} */ one) => one.role !== column.role);
    said.units.push({ role: column.role, unit });
  }, "channels");
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
  }, "channels");
}

/** Says how much time lies between rows of a log without a usable time. @param {number} input @param {number|null} seconds */
export function setRowPeriod(input, seconds) {
  changeSettings(`period ${input}`, (settings) => {
    columnsOf(settings, input).row_period = seconds;
  }, "channels");
}

/** @param {number} input */
export function rowPeriod(input) {
  return state.settings?.inputs?.[input]?.columns?.row_period ?? null;
}

/** How the text of one input is read. @param {number} input @param {string} key */
export function readingOf(input, key) {
  return state.settings?.inputs?.[input]?.read?.[key] ?? null;
}

/** @param {number} input @param {string} key @param {string|null} value */
export function setReadingOf(input, key, value) {
  changeSettings(`${key} ${input}`, (settings) => {
    const said = saidOf(settings, input);
    said.read ??= {};
    said.read[key] = value;
  }, "log");
}
