// @ts-check
// Opening and removing logs, and what else was saved from a bench: settings, calibrations, whole pages.

import { sentence } from "./format.js";
import { ask } from "./link.js";
import { changeSettings, clearNotices, forgetStep, notify, offerLastSettings, set, state, working } from "./state.js";

/**
 * Where each log came from, kept for sharing and never stored.
 * @type {{name: string, bytes: number, sha256?: string, packed?: string, blob?: () => Promise<Blob>}[]}
 */
export const sources = [];

/** Largest file that is looked into as a saved bench, settings or calibration. */
const SMALL = 64 * 1024 * 1024;

/** What a dropped file is, besides a log. @param {File} file @returns {Promise<{kind: string, value: any}|null>} */
async function savedIn(file) {
  if (file.size > SMALL || !/\.(json|html?)$/i.test(file.name)) return null;
  const text = await file.text();
  if (/\.html?$/i.test(file.name)) return pageParts(text);
  // Whole or not: the core says what is wrong with a damaged record.
  if (text.includes('"wattsieve-calibration/')) return { kind: "calibration", value: text };
  const value = JSON.parse(text);
  if (value?.settings?.sieve) return { kind: "settings", value: value.settings };
  if (value?.sieve && value?.fixture) return { kind: "settings", value };
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
  for (const file of logs) sources.push({ name: file.name, bytes: file.size, blob: () => Promise.resolve(file) });
  const name = logs.length === 1 ? logs[0].name : `${logs.length} files`;
  return working(`Reading ${name}`, async () => withoutRefused(await ask("open", { files: logs })), "log").then(opened);
}

/** Takes out inputs that hold nothing to read, each with its sentence; what was open stays as it was. @param {any} view */
async function withoutRefused(view) {
  let now = view;
  for (let input = (view.inputs?.length ?? 0) - 1; input >= 0; input -= 1) {
    const one = view.inputs[input];
    if (one.outcome !== "refused") continue;
    notify("log", one.refusal ? `${one.name}: ${sentence(one.refusal)}` : `${one.name} holds nothing that can be read.`, `${one.name} was left out. Choose the text file that the logger writes: one row per reading, names of the columns first.`);
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
  changeSettings("file", (settings) => {
    const keep = settings.inputs.length !== (value.inputs?.length ?? 0) && settings.inputs.length > 0 ? settings.inputs : value.inputs ?? [];
    Object.assign(settings, value, { inputs: keep });
  });
  notify("", `The settings in ${name} are used now.`, "Undo takes it back.", true);
}

/** @param {string} name @param {string} text */
export function openText(name, text) {
  clearNotices("log");
  const blob = new Blob([text]);
  sources.push({ name, bytes: blob.size, blob: () => Promise.resolve(blob) });
  return working(`Reading ${name}`, async () => withoutRefused(await ask("openText", { name, text })), "log").then(opened);
}

/** @param {any} bench @param {{name: string, base64: string, bytes: number, sha256: string}[]} logs */
export function openBench(bench, logs) {
  sources.length = 0;
  for (const log of logs) sources.push({ name: log.name, bytes: log.bytes, packed: log.base64, sha256: log.sha256 });
  return working("Opening the bench", () => ask("openBench", { bench, logs }), "log").then(opened);
}

/** @param {number} input */
export function removeInput(input) {
  return working("Taking the log out", () => ask("remove", { input }), "log").then(opened);
}

let greeted = false;

/** @param {any} view */
function opened(view) {
  if (!view) return view;
  forgetStep();
  if (!greeted && !state.shared && view.runs?.length) {
    greeted = true;
    offerLastSettings();
  }
  return view;
}
