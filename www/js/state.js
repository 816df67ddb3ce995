// @ts-check
// The only mutable state of the page: what is open, the settings with their history, what is chosen.
// Panels read `state`, call the functions here, and are drawn again once per frame after a change.

import { oncePerFrame } from "./dom.js";
import { remembered, stepBack, stepForward } from "./history.js";
import { ask, cancel, onDeath, onProgress } from "./link.js";
import { recall, remember } from "./store.js";

/**
 * @typedef {{id: number, card: string, text: string, hint: string|null, good: boolean, act?: {words: string, does: () => void}}} Notice
 * @typedef {{text: string, unit: string, done: number|null, total: number|null, cancel: boolean, since: number}} Busy
 */
export const state = {
  /** @type {"empty"|"bench"} */ phase: "empty",
  /** @type {"starting"|"ready"|"broken"} */ core: "starting",
  /** @type {any} */ view: null,
  /** @type {any} */ settings: null,
  run: 0,
  second: 1,
  tab: "map",
  card: "",
  chainShown: false,
  input: 0,
  marks: "rows",
  colour: "efficiency",
  rejected: true,
  /** @type {{x: [number, number], y: [number, number]}|null} */ frame: null,
  logCurrent: true,
  /** @type {any} */ reading: null,
  readingFrom: "pointer",
  finding: -1,
  /** @type {[number, number]|null} */ selection: null,
  /** Rows chosen in a figure, see hand.js. @type {any} */ picked: null,
  /** A drag in the map chooses rows rather than moving the picture. */
  choosing: false,
  /** @type {any} */ cell: null,
  pair: 0,
  differenceIn: "points",
  /** Operating point of the calibration's budget; below 0: the first of the run in front. */
  budgetPoint: -1,
  /** @type {Busy|null} */ busy: null,
  stale: false,
  /** The figure already follows the newest settings, the answers do not yet. */
  ahead: false,
  /** What is shown was saved with the page; the logs are still being read. */
  early: false,
  /** @type {Notice[]} */ notices: [],
  theme: "auto",
  /** @type {boolean} */ saved: false,
  shared: false,
  viewNumber: 0,
};

/** @type {Set<() => void>} */
const listeners = new Set();
const tellAll = oncePerFrame(() => {
  for (const listener of listeners) listener();
});

/** Calls `listener` once per frame after changes. @param {() => void} listener */
export function watch(listener) {
  listeners.add(listener);
}

/** Says that something in `state` changed. */
export function changed() {
  tellAll();
}

/** Sets some of the state. @param {Partial<typeof state>} part */
export function set(part) {
  Object.assign(state, part);
  changed();
}

// --- notices -------------------------------------------------------------------------------------

let noticeNumber = 0;

/** Offers to do something. @param {string} text @param {string} hint @param {{words: string, does: () => void}} act */
export function offer(text, hint, act) {
  state.notices = [...state.notices.filter((notice) => notice.text !== text), { id: ++noticeNumber, card: "", text, hint, good: true, act }];
  changed();
}

/** Tells of a success in a card, with something that can be done about it. @param {string} card @param {string} text @param {{words: string, does: () => void}} act */
export function offerIn(card, text, act) {
  state.notices = [...state.notices.filter((notice) => notice.text !== text && notice.act?.words !== act.words), { id: ++noticeNumber, card, text, hint: null, good: true, act }];
  changed();
}

/** Puts a sentence where it belongs. @param {string} card stage, or "" for the page @param {string} text @param {string|null} [hint] @param {boolean} [good] it tells of a success */
export function notify(card, text, hint = null, good = false) {
  state.notices = [...state.notices.filter((notice) => notice.text !== text), { id: ++noticeNumber, card, text, hint, good }];
  changed();
}

/** Puts all sentences of a card away. @param {string} card */
export function clearNotices(card) {
  state.notices = state.notices.filter((notice) => notice.card !== card);
}

/** @param {number} id */
export function dismiss(id) {
  state.notices = state.notices.filter((notice) => notice.id !== id);
  changed();
}

/** Whether an answer was given up because a newer question overtook it. @param {any} error */
export function overtaken(error) {
  return error?.code === "stale" || error?.code === "cancelled" || error?.code === "superseded";
}

/** Shows an error of the core in the card it belongs to. @param {any} error @param {string} card */
export function report(error, card = "") {
  if (overtaken(error)) return;
  const message = typeof error?.message === "string" ? error.message : String(error);
  const file = error instanceof Error ? null : error?.name;
  const text = file && !message.includes(file) ? `${file}: ${message}` : message;
  notify(error?.card ?? card, text, error?.hint ?? null);
}

// --- work and progress ---------------------------------------------------------------------------

let workNumber = 0;

/**
 * Runs one piece of work that replaces the view; progress and cancel belong to the newest.
 * @param {string} text what is being done @param {() => Promise<any>} work @param {string} card where errors go
 * @param {boolean} [stoppable] whether it can be given up half-way
 */
export async function working(text, work, card, stoppable = true) {
  const mine = ++workNumber;
  state.busy = { text, unit: "rows", done: null, total: null, cancel: stoppable, since: performance.now() };
  changed();
  setTimeout(() => {
    if (mine === workNumber && state.busy && state.view) set({ stale: true });
  }, 200);
  setTimeout(() => {
    if (mine === workNumber) changed();
  }, 1000);
  try {
    const view = await work();
    for (const failed of view?.failed ?? []) report(failed, card);
    if (mine === workNumber && view) takeView(view);
    return view;
  } catch (error) {
    endEarly();
    report(error, card);
    return null;
  } finally {
    if (mine === workNumber) {
      state.busy = null;
      state.stale = waitingMove !== null;
      state.ahead = false;
      changed();
    }
  }
}

/** Shows the results saved with a page until its logs are read; nothing can be set meanwhile. @param {any} bench */
export function showEarly(bench) {
  const view = bench?.results;
  if (!view?.runs?.length || !view.settings) return;
  state.shared = true;
  takeView(view);
  Object.assign(state, { early: true, stale: true, busy: { text: "Opening the bench", unit: "rows", done: null, total: null, cancel: false, since: performance.now() } });
}

/** Puts results shown early away: the logs beside them could not be read. */
function endEarly() {
  if (state.early) Object.assign(state, { early: false, stale: false, view: null, settings: null, phase: "empty", reading: null });
}

/** @type {Record<string, string>} */
const STAGE_WORDS = { read: "Reading", unpack: "Unpacking", hash: "Taking the fingerprint of the logs" };

/** @param {{stage: string, done: number, total: number, file: string|null}} progress */
function takeProgress(progress) {
  if (!state.busy) return;
  const unit = progress.stage === "read" ? "bytes" : progress.stage === "unpack" ? "logs" : "rows";
  const words = STAGE_WORDS[progress.stage];
  const text = words ? (progress.file ? `${words} ${progress.file}` : words) : "Working it out";
  state.busy = { ...state.busy, text, unit, done: progress.done, total: progress.total || null };
  changed();
}

/** Stops what is running; what was open stays as it was. */
export function stopWork() {
  cancel();
  workNumber += 1;
  endEarly();
  // Counts that ran ahead of what is taken back are asked anew.
  if (state.ahead) ask("view").then(takeView, () => {});
  state.busy = null;
  state.stale = false;
  state.ahead = false;
  if (state.view) state.settings = structuredClone(state.view.settings);
  changed();
}

let askedAbout = -1;

/** Takes a new view model from the core. @param {any} view */
function takeView(view) {
  const first = (state.early || !state.view?.runs?.length) && view.runs?.length > 0;
  const again = state.early;
  // An answer given in a card leaves that card in front.
  const answered = !again && state.view?.inputs?.length === view.inputs?.length;
  state.early = false;
  state.view = view;
  state.viewNumber += 1;
  if (!pendingSettings) state.settings = structuredClone(view.settings);
  state.phase = view.inputs?.length ? "bench" : "empty";
  const runs = view.runs?.length ?? 0;
  if (state.run >= runs) state.run = Math.max(0, runs - 1);
  if (state.second === state.run || state.second >= runs) state.second = runs > 1 ? (state.run === 0 ? 1 : 0) : 0;
  if (state.input >= (view.inputs?.length ?? 0)) state.input = (view.inputs?.length ?? 0) - 1;
  if (state.finding >= (view.runs?.[state.run]?.findings?.length ?? 0)) state.finding = -1;
  if (first && !answered) state.input = currentInputs()[0] ?? 0;
  const asking = (view.inputs ?? []).findIndex((/** @type {any} */ input) => input.outcome === "asks" || input.outcome === "refused");
  if (asking >= 0 && asking !== askedAbout) Object.assign(state, { input: asking, card: "log", chainShown: true });
  askedAbout = asking;
  if (first && !again) state.tab = runs > 1 && view.comparison && state.shared ? "compare" : "map";
  if (runs === 0) state.tab = "fixture";
  changed();
}

// --- settings and their history ------------------------------------------------------------------

let pendingSettings = 0;

/** What is open and how it is set, as undo remembers it. */
export function standing() {
  return JSON.stringify({ keys: state.view?.keys ?? [], settings: state.settings });
}

/**
 * Changes settings, remembers the step and asks for the new view.
 * @param {string} key what is being moved; quick moves of one control make one step
 * @param {(settings: any) => void} edit
 * @param {string} [card] where an error goes
 */
export function changeSettings(key, edit, card = "") {
  if (!state.settings || state.early) return;
  const next = structuredClone(state.settings);
  edit(next);
  if (JSON.stringify(next) === JSON.stringify(state.settings)) return;
  remembered(key, standing());
  sendSettings(next, card);
}

export function undo() {
  goTo(stepBack(standing()));
}

export function redo() {
  goTo(stepForward(standing()));
}

/** @param {import("./history.js").Standing|null} there */
function goTo(there) {
  if (!there) return;
  if (JSON.stringify(there.keys) === JSON.stringify(state.view?.keys ?? [])) {
    sendSettings(there.settings, "");
    return;
  }
  // Other logs were open: they are taken out or read again.
  working("Going back to what was open", () => ask("arrange", there), "log", false).then((view) => {
    if (!view) ask("view").then(takeView, () => {});
  });
}

/** What redraws the figure in front as soon as the rows stand. @type {() => Promise<void>} */
let redrawFigure = async () => {};

/** @param {() => Promise<void>} work */
export function onSettingsSent(work) {
  redrawFigure = work;
}

/** Whether a settings request flies whose figure has not come back. */
let flying = false;
/** @type {{settings: any, card: string}|null} the newest move that waits for it */
let waitingMove = null;

/**
 * Moves that come quicker than figures are drawn wait, and only the newest of them is sent: so the figure
 * follows a slider instead of starving behind it.
 * @param {any} settings @param {string} card
 */
function sendSettings(settings, card) {
  state.settings = settings;
  changed();
  if (flying) {
    waitingMove = { settings, card };
    state.stale = true;
    return;
  }
  flying = true;
  dispatchSettings(settings, card);
  followRows().finally(() => {
    flying = false;
    const next = waitingMove;
    waitingMove = null;
    if (next) sendSettings(next.settings, next.card);
  });
}

/** Asks for what is quick: the figure and the counts of the chain. */
async function followRows() {
  const run = state.run;
  const view = state.viewNumber;
  try {
    const [rows] = await Promise.all([ask("rows", { run }), redrawFigure()]);
    if (view !== state.viewNumber || !rows || !state.view?.runs?.[run]) return;
    state.view.runs[run].rows = rows;
    if (state.busy) Object.assign(state, { ahead: true, stale: true });
    changed();
  } catch (error) {
    if (!overtaken(error)) report(error);
  }
}

/** @param {any} settings @param {string} card */
function dispatchSettings(settings, card) {
  pendingSettings += 1;
  const mine = pendingSettings;
  working("Working it out", () => ask("settings", { settings }), card).then((view) => {
    if (mine !== pendingSettings || waitingMove) return;
    pendingSettings = 0;
    if (view) {
      state.settings = structuredClone(view.settings);
      state.saved = remember("settings", view.settings);
    }
    else if (state.view) state.settings = structuredClone(state.view.settings);
    changed();
  });
}

/** Parts of the settings that do not depend on which logs are open. */
const LASTING_PARTS = ["align", "sieve", "fixture", "compare"];

/** Offers the settings of the last visit, where they differ from what is in use. */
export function offerLastSettings() {
  const last = recall("settings");
  if (!last || !state.settings || last.version !== state.settings.version) return;
  const same = LASTING_PARTS.every((part) => JSON.stringify(last[part]) === JSON.stringify(state.settings[part]));
  if (same) return;
  offer("This browser kept the settings of your last visit.", "Sieve, gates, delays, fixture and comparison; not the logs.", {
    words: "Use them",
    does: () => changeSettings("last visit", (settings) => {
      for (const part of LASTING_PARTS) if (last[part]) settings[part] = last[part];
    }),
  });
}

/** Reads a setting by its dotted path. @param {any} settings @param {string} path */
export function readPath(settings, path) {
  return path.split(".").reduce((at, part) => (at === null || at === undefined ? undefined : at[part]), settings);
}

/** Writes a setting by its dotted path. @param {any} settings @param {string} path @param {any} value */
export function writePath(settings, path, value) {
  const parts = path.split(".");
  const last = /** @type {string} */ (parts.pop());
  let at = settings;
  for (const part of parts) {
    if (at[part] === null || typeof at[part] !== "object") at[part] = {};
    at = at[part];
  }
  at[last] = value;
}

// --- choosing ------------------------------------------------------------------------------------

/** @param {number} run */
export function chooseRun(run) {
  if (run === state.run) return;
  if (state.second === run) state.second = state.run;
  Object.assign(state, { run, finding: -1, reading: null, selection: null, picked: null, cell: null });
  state.input = currentInputs()[0] ?? state.input;
  changed();
}

/** The run in front, or null. */
export function currentRun() {
  return state.view?.runs?.[state.run] ?? null;
}

/** Inputs of the run in front. */
export function currentInputs() {
  const parts = currentRun()?.parts ?? [];
  return parts.map((/** @type {any} */ part) => part.input);
}

/** @param {string} theme "auto", "light" or "dark" */
export function setTheme(theme) {
  state.theme = theme;
  remember("theme", theme);
  applyTheme();
  changed();
}

const darkQuery = matchMedia("(prefers-color-scheme: dark)");

/** Puts the theme on the document; figures read their colours from it. */
function applyTheme() {
  const dark = state.theme === "dark" || (state.theme === "auto" && darkQuery.matches);
  document.documentElement.dataset.theme = dark ? "dark" : "light";
}

/** Connects the state to the browser and the core; called once. */
export function startState() {
  state.theme = recall("theme") ?? "auto";
  applyTheme();
  darkQuery.addEventListener("change", () => {
    applyTheme();
    changed();
  });
  onProgress(takeProgress);
  onDeath((failure) => {
    if (failure.code === "lost") Object.assign(state, { view: null, phase: "empty", reading: null });
    report(failure);
  });
}
