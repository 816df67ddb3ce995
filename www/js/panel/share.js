// @ts-check
// Saving and sharing: files of every kind, and the page that carries its own bench.

import { h, offerFile } from "../dom.js";
import { counted, fileSize } from "../format.js";
import { ask } from "../link.js";
import { sourceOf } from "../inputs.js";
import { currentRun, notify, report, state } from "../state.js";
import { APP_NAME } from "../text.js";
import { saveFigure } from "./map_save.js";

/** @param {string} what @param {any} [more] @param {string} [type] */
async function saveExport(what, more = {}, type = "application/json") {
  try {
    const file = await ask("export", { what, ...more });
    offerFile(file.name, file.text, type);
  } catch (error) {
    report(error);
  }
}

export function saveCalibration() {
  return saveExport("calibration");
}

/** A dialog with everything that can be saved. */
export function saveMenu() {
  const run = currentRun();
  /** @type {[string, string, (() => any)|null][]} */
  const kinds = [
    ["Bench settings", "Every setting, as a small file that can be dropped back in.", () => saveExport("settings")],
    ["Results", "All numbers with their uncertainties, machine-readable.", () => saveExport("results")],
    ["Kept rows", "The corrected rows of the run in front, as a table with a decimal point.", run ? () => saveExport("rows", { run: state.run }, "text/csv") : null],
    ["Calibration", "The fixture as a small file; drop it on another bench to use it there.", state.view?.fixture ? saveCalibration : null],
    ["Figure", "The map as a picture, its caption burned in.", run ? () => saveFigure("png") : null],
  ];
  const dialog = /** @type {HTMLDialogElement} */ (h("dialog", { "aria-label": "Save to a file", onclose: () => dialog.remove() },
    h("h2", null, "Save to a file"),
    h("div", { class: "stack" },
      kinds.map(([name, words, save]) => h("div", { class: "row" }, h("span", null, name, h("br", null), h("span", { class: "note" }, save ? words : "Not there yet: nothing of this kind is open.")),
        h("button", { class: "btn", disabled: !save, onclick: () => save?.(), "aria-label": `Save: ${name}` }, "Save"))),
      h("div", { class: "acts" }, h("button", { class: "btn", onclick: () => dialog.close() }, "Close")))));
  document.body.append(dialog);
  dialog.showModal();
}

/** @param {Uint8Array} bytes */
function toBase64(bytes) {
  if ("toBase64" in bytes) return /** @type {any} */ (bytes).toBase64();
  const parts = [];
  for (let at = 0; at < bytes.length; at += 0x7ffe) parts.push(btoa(String.fromCharCode(...bytes.subarray(at, at + 0x7ffe))));
  return parts.join("");
}

/** @param {Blob} blob */
async function pack(blob) {
  const stream = blob.stream().pipeThrough(new CompressionStream("deflate-raw"));
  return toBase64(new Uint8Array(await new Response(stream).arrayBuffer()));
}

/** Takes a node out, and the line break before it. @param {ChildNode} node */
function takeOut(node) {
  const before = node.previousSibling;
  if (before?.nodeType === Node.TEXT_NODE && before.nodeValue === "\n") before.remove();
  node.remove();
}

/** A copy of the document as it was before it ran, without the demo and without logs. */
function bareDocument() {
  const root = /** @type {HTMLElement} */ (document.documentElement.cloneNode(true));
  const body = /** @type {HTMLElement} */ (root.querySelector("body"));
  root.removeAttribute("data-theme");
  root.removeAttribute("class");
  for (const element of root.querySelectorAll("dialog, #spoken, body > a[download]")) element.remove();
  for (const element of root.querySelectorAll("script.log, script.demo-log, #demo")) takeOut(element);
  for (const node of [...body.childNodes]) if (node.nodeType === Node.COMMENT_NODE && /^ \/?demo $/.test(node.nodeValue ?? "")) takeOut(node);
  root.querySelector("#app")?.replaceChildren();
  return root;
}

/** @param {string} text */
function forScript(text) {
  return text.replaceAll("<", "\\u003c");
}

/** Makes one page with the logs, settings and results inside and offers it as a file. */
export async function sharePage() {
  const inputs = state.view?.inputs ?? [];
  try {
    const results = await ask("export", { what: "results" });
    const bench = await ask("export", { what: "bench" });
    const hashes = JSON.parse(results.text).inputs;
    const root = bareDocument();
    const block = /** @type {HTMLElement} */ (root.querySelector("#bench"));
    /** @type {ChildNode} */
    let last = block;
    block.replaceChildren(forScript(bench.text));
    for (const [i, input] of inputs.entries()) {
      const source = sourceOf(i);
      if (!source) throw { code: "log_gone", message: `${input.name} is no longer at hand, so the page would be incomplete.`, hint: "Open the log again and share then." };
      const packed = source.packed ?? await pack(await /** @type {any} */ (source.blob)());
      const log = document.createElement("script");
      log.setAttribute("type", "text/plain");
      log.className = "log";
      log.dataset.name = input.name;
      log.dataset.sha256 = hashes[i].sha256;
      log.dataset.bytes = String(input.bytes);
      log.append(packed);
      last.after("\n", log);
      last = log;
    }
    const names = (state.view?.runs ?? []).map((/** @type {any} */ run) => run.name);
    const title = root.querySelector("title");
    if (title) title.textContent = names.length ? `${names.join(", ")} – ${APP_NAME}` : APP_NAME;
    const text = `<!doctype html>\n${root.outerHTML}`;
    const safe = (names[0] ?? "bench").replace(/[^\p{L}\p{N}._-]+/gu, "-").slice(0, 60);
    offerFile(`${safe}-wattsieve.html`, text, "text/html");
    notify("", `The page was made: ${fileSize(new Blob([text]).size)}, with ${counted(inputs.length, "log")}, the settings and the results inside.`, "It opens in a current browser, without this one and without a network. Whoever has it can read the logs.", true);
  } catch (error) {
    report(error);
  }
}
