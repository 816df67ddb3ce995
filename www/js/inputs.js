// @ts-check
// Opening and removing logs, and what else was saved from a bench: settings, calibrations, whole pages.

import { counted, sentence } from "./format.js";
import { forgetStep, remembered } from "./history.js";
import { ask } from "./link.js";
import { changeSettings, clearNotices, notify, offerIn, offerLastSettings, set, standing, state, undo, working } from "./state.js";
import { bytesFromBase64 } from "./base64.js";

/**
 * Where each log came from, kept for sharing and for reading again, and never stored.
 * @type {{key: number, name: string, bytes: number, sha256?: string, packed?: string, blob?: () => Promise<Blob>}[]}
 */
export const sources = [];

/** Number under which the next log is opened. */
let nextKey = 0;

/** Where an input's text comes from. @param {number} input */
export function sourceOf(input) {
  const key = state.view?.keys?.[input];
  return sources.find((source) => source.key === key) ?? null;
}

/** @param {any} view the reply to something that opened logs */
function countKeys(view) {
  for (const key of view?.keys ?? []) nextKey = Math.max(nextKey, key + 1);
}

/** Largest file that is looked into as a saved bench, settings or calibration. */
const SMALL = 64 * 1024 * 1024;

/** @param {string} text @returns {any} */
function parsed(text) {
  try {
    return JSON.parse(text);
  } catch {
    return null;
  }
}

/** What a dropped file is, besides a log. @param {File} file @returns {Promise<{kind: string, value: any}|null>} */
async function savedIn(file) {
  if (file.size > SMALL || !/\.(json|html?)$/i.test(file.name)) return null;
  const text = await file.text();
  if (/\.html?$/i.test(file.name)) return pageParts(text);
  const value = parsed(text);
  // Whole or not: the core says what is wrong with a damaged record.
  if (value?.schema ? String(value.schema).startsWith("wattsieve-calibration/") : value === null && text.includes('"wattsieve-calibration/')) return { kind: "calibration", value: text };
  if (value?.settings?.sieve) return { kind: "settings", value: { settings: value.settings, names: Array.isArray(value.inputs) ? value.inputs.map((/** @type {any} */ input) => String(input?.name ?? "")) : null } };
  if (value?.sieve && value?.fixture) return { kind: "settings", value: { settings: value, names: null } };
  return null;
}

/** The bench and logs in the text of a page, taken from its data blocks; the page itself is never parsed as markup. @param {string} text */
function pageParts(text) {
  const close = "<" + "/script>";
  const inside = (/** @type {number} */ from) => text.slice(text.indexOf(">", from) + 1, text.indexOf(close, from));
  const at = text.indexOf('<script type="application/json" id="bench"');
  const bench = at < 0 ? null : JSON.parse(inside(at));
  if (!bench) return null;
  const plainText = (/** @type {string|undefined} */ value) => (value ?? "").replaceAll("&quot;", '"').replaceAll("&lt;", "<").replaceAll("&gt;", ">").replaceAll("&nbsp;", "\u00a0").replaceAll("&amp;", "&");
  const logs = [];
  // Quotes inside attributes are escaped, so a name may hold any other sign.
  const tag = /<script type="text\/plain" class="log"((?: data-[a-z0-9]+="[^"]*")*)>/gu;
  for (const found of text.matchAll(tag)) {
    const attribute = (/** @type {string} */ name) => plainText(new RegExp(` data-${name}="([^"]*)"`).exec(found[1])?.[1]);
    const from = found.index + found[0].length;
    logs.push({ name: attribute("name") || "log", sha256: attribute("sha256"), bytes: Number(attribute("bytes")), base64: text.slice(from, text.indexOf(close, from)) });
  }
  return { kind: "page", value: { bench, logs } };
}

/** The logs that a page carries. @param {Document} page @param {string} kind class of their blocks */
export function logsIn(page, kind) {
  return [...page.querySelectorAll(`script.${kind}`)].map((element) => {
    const script = /** @type {HTMLScriptElement} */ (element);
    return { name: script.dataset.name ?? "log", sha256: script.dataset.sha256 ?? "", bytes: Number(script.dataset.bytes), base64: script.textContent ?? "" };
  });
}

/** Opens logs, and what else was saved from a bench. @param {File[]} files */
export async function openFiles(files) {
  clearNotices("log");
  const logs = [];
  for (const file of files) {
    let saved = null;
    try {
      saved = await savedIn(file);
    } catch {
      saved = null;
    }
    if (!saved) logs.push(file);
    else if (saved.kind === "page") await openBench(saved.value.bench, saved.value.logs);
    else await takeSaved(saved.kind, saved.value, file.name);
  }
  if (!logs.length) return null;
  const name = logs.length === 1 ? logs[0].name : `${logs.length} files`;
  const key = nextKey;
  const before = stoodBefore();
  return working(`Reading ${name}`, async () => {
    const view = await ask("open", { files: logs, key });
    countKeys(view);
    keepSources(view, key, logs);
    sayGrown(view);
    return withoutRefused(view);
  }, "log").then((view) => opened(view, before));
}

/** Keeps where the logs of a reply came from. @param {any} view @param {number} from number of the first of them @param {File[]} files */
function keepSources(view, from, files) {
  if (Array.isArray(view.opened)) {
    for (const one of view.opened) {
      const key = view.keys[one.input];
      const at = sources.findIndex((source) => source.key === key);
      if (at >= 0) sources.splice(at, 1);
      sources.push({ key, name: one.name, bytes: one.bytes, blob: () => Promise.resolve(one.blob) });
    }
    return;
  }
  for (const [input, key] of (view.keys ?? []).entries()) {
    const file = key >= from ? files.find((one) => one.name === view.inputs[input].name && one.size === view.inputs[input].bytes) : null;
    if (file) sources.push({ key, name: file.name, bytes: file.size, blob: () => Promise.resolve(file) });
  }
}

/** Says what came to logs that were open already. @param {any} view */
function sayGrown(view) {
  for (const one of view.opened ?? []) {
    if (!one.grown) continue;
    const rows = one.new_rows ?? view.inputs[one.input]?.grown?.rows;
    notify("log", rows ? `${counted(rows, "new row")} read from ${one.name}.` : `${one.name} holds nothing new.`, "It was open already: its settings stay, and only what came after is read.", true);
  }
}

/** Takes out inputs that nothing could make readable, each with its sentence; what was open stays as it was. @param {any} view */
async function withoutRefused(view) {
  let now = view;
  for (let input = (view.inputs?.length ?? 0) - 1; input >= 0; input -= 1) {
    const one = view.inputs[input];
    if (one.outcome !== "refused" || one.correctable) continue;
    notify("log", one.refusal ? `${one.name}: ${sentence(one.refusal)}` : `${one.name} holds nothing that can be read.`, "It was left out; everything else is as it was.");
    now = await ask("remove", { input });
  }
  return { ...now, failed: view.failed };
}

/** Uses a calibration from a file, unless it cannot be read; what was open then stays as it was. @param {string} text @param {string} name */
async function takeRecord(text, name) {
  try {
    await ask("record", { text });
  } catch (error) {
    const failed = /** @type {any} */ (error);
    notify("", `${name}: ${sentence(failed?.message ?? String(error))}`, failed?.hint ?? null);
    return;
  }
  const runs = (state.view?.inputs ?? []).some((/** @type {any} */ input) => !["run", "table"].includes(input.role));
  changeSettings("calibration", (settings) => Object.assign(settings, { calibration: JSON.parse(text), ...(runs ? { calibration_use: "checked_by_runs" } : {}) }), "fixture");
  notify("", runs ? `The record in ${name} is used, and the calibration runs at hand check it.` : `The record in ${name} is used: this board inherits its calibration.`, "Undo takes it back.", true);
}

/** Uses settings or a calibration from a file. @param {string} kind @param {any} value @param {string} name */
async function takeSaved(kind, value, name) {
  if (!state.settings) set({ settings: (await ask("view")).settings });
  if (kind === "calibration") {
    await takeRecord(value, name);
    return;
  }
  const { settings: said, names } = value;
  const open = (state.view?.inputs ?? []).map((/** @type {any} */ input) => input.name);
  // A saved bench names its logs: what it says of each goes to the log of that name.
  const place = (/** @type {string} */ log, /** @type {number} */ at) => (names ? names.indexOf(log) : said.inputs?.length === open.length ? at : -1);
  const places = open.map(place);
  changeSettings("file", (settings) => {
    const inputs = open.length ? settings.inputs.map((/** @type {any} */ one, /** @type {number} */ at) => (places[at] >= 0 ? said.inputs?.[places[at]] ?? one : one)) : said.inputs ?? [];
    Object.assign(settings, said, { inputs });
  });
  const met = places.filter((at) => at >= 0).length;
  const lacking = names ? names.filter((one) => !open.includes(one)) : [];
  notify("", `The settings in ${name} are used now${open.length ? `, for ${met === open.length ? "all" : met} of ${counted(open.length, "log")} also how it is read` : ""}.`,
    `${lacking.length ? `Not open: ${lacking.slice(0, 4).join(", ")}${lacking.length > 4 ? " and more" : ""}. ` : ""}Undo takes it back.`, true);
}

/** A name that no open log has. */
export function pastedName() {
  const taken = new Set((state.view?.inputs ?? []).map((/** @type {any} */ input) => input.name));
  let number = 1;
  while (taken.has(`pasted table ${number}`)) number += 1;
  return `pasted table ${number}`;
}

/** @param {string} name @param {string} text */
export function openText(name, text) {
  clearNotices("log");
  const blob = new Blob([text]);
  const key = nextKey;
  const before = stoodBefore();
  return working(`Reading ${name}`, async () => {
    const view = await ask("openText", { name, text, key });
    countKeys(view);
    const at = (view.keys ?? []).indexOf(key);
    if (at >= 0) sources.push({ key, name, bytes: blob.size, blob: () => Promise.resolve(blob) });
    return withoutRefused(view);
  }, "log").then((view) => opened(view, before));
}

/** @param {any} bench @param {{name: string, base64: string, bytes: number, sha256: string}[]} logs */
export function openBench(bench, logs) {
  const key = nextKey;
  const before = stoodBefore();
  for (const [at, log] of logs.entries()) sources.push({ key: key + at, name: log.name, bytes: log.bytes, packed: log.base64, sha256: log.sha256, blob: () => unpacked(log.base64) });
  nextKey = key + logs.length;
  return working("Opening the bench", async () => {
    const view = await ask("openBench", { bench, logs, key });
    countKeys(view);
    return view;
  }, "log").then((view) => opened(view, before));
}

/** @param {string} base64 of a deflated log */
function unpacked(base64) {
  return new Response(new Blob([bytesFromBase64(base64)]).stream().pipeThrough(new DecompressionStream("deflate-raw"))).blob();
}

/** @param {number} input */
export function removeInput(input) {
  const name = state.view?.inputs?.[input]?.name ?? "The log";
  const before = stoodBefore();
  return working("Taking the log out", () => ask("remove", { input }), "log").then((view) => {
    if (view) offerIn("log", `${name} was taken out.`, { words: "Put it back", does: undo });
    return opened(view, before);
  });
}

/** What undo returns to, where something is open. */
function stoodBefore() {
  return state.phase === "bench" && !state.early ? standing() : null;
}

let greeted = false;

/** @param {any} view @param {string|null} before what stood before, if it can be returned to */
function opened(view, before) {
  if (!view) return view;
  if (before !== null && before !== standing()) remembered("logs", before);
  forgetStep();
  if (!greeted && !state.shared && view.runs?.length) {
    greeted = true;
    offerLastSettings();
  }
  return view;
}
