// @ts-check
// Ways in: choosing, dropping, pasting, the demo.

import { h } from "../dom.js";
import { logsIn, openBench, openFiles, openText } from "../inputs.js";
import { notify, offer, set, showEarly, state } from "../state.js";
import { wrong } from "./controls.js";

/** @type {HTMLInputElement|null} */
let picker = null;

/** Opens the browser's own file chooser. */
export function chooseFiles() {
  picker?.click();
}

/** Reads the data blocks that a page carries. @param {string} benchId @param {string} logClass */
function carried(benchId, logClass) {
  const block = document.getElementById(benchId);
  if (!block) return null;
  const bench = JSON.parse(block.textContent || "null");
  if (bench === null) return null;
  return { bench, logs: logsIn(document, logClass) };
}

/** Whether this page carries the demo. */
export function hasDemo() {
  return document.getElementById("demo") !== null;
}

export function openDemo() {
  const demo = carried("demo", "demo-log");
  if (demo) openBench(demo.bench, demo.logs);
}

/** Shows at once what was saved with a shared page. */
export function showCarried() {
  try {
    showEarly(carried("bench", "log")?.bench);
  } catch {
    // Said by openCarried, once the page stands.
  }
}

/** Opens the bench inside a shared page, if there is one. */
export function openCarried() {
  let found = null;
  try {
    found = carried("bench", "log");
  } catch {
    notify("", "The bench inside this page is damaged and was not opened.", "The logs themselves can be opened from files.");
  }
  if (!found) return false;
  set({ shared: true });
  openBench(found.bench, found.logs).then((/** @type {any} */ view) => {
    if (!view && state.phase === "empty" && !state.notices.length) offer("The logs inside this page were not opened.", "They are still there.", { words: "Open them", does: openCarried });
  });
  return true;
}

/** @param {DataTransfer|null} transfer */
function filesOf(transfer) {
  return transfer ? [...transfer.files] : [];
}

/** Makes the whole page take dropped files, with one real file input beside it. @param {HTMLElement} parent */
export function mountOpening(parent) {
  picker = /** @type {HTMLInputElement} */ (h("input", { type: "file", multiple: true, class: "away", id: "files", tabindex: "-1", "aria-label": "Choose log files, a bench file or a calibration file" }));
  picker.addEventListener("change", () => {
    const files = [...(picker?.files ?? [])];
    if (picker) picker.value = "";
    openFiles(files);
  });
  parent.append(picker);
  let depth = 0;
  const root = document.documentElement;
  addEventListener("dragenter", (event) => {
    event.preventDefault();
    depth += 1;
    root.classList.add("over");
  });
  addEventListener("dragover", (event) => event.preventDefault());
  addEventListener("dragleave", () => {
    depth = Math.max(0, depth - 1);
    if (!depth) root.classList.remove("over");
  });
  addEventListener("drop", (event) => {
    event.preventDefault();
    depth = 0;
    root.classList.remove("over");
    const files = filesOf(event.dataTransfer);
    if (files.length) openFiles(files);
    else notify(state.phase === "bench" ? "log" : "", "What was dropped holds no file.", "Drop a text file, or choose it with the button.");
  });
  addEventListener("paste", (event) => {
    const target = event.target;
    if (target instanceof HTMLElement && target.closest("input, textarea, dialog")) return;
    const files = filesOf(event.clipboardData);
    if (files.length) openFiles(files);
  });
}

/** A dialog that takes a pasted table. */
export function pasteTable() {
  const area = /** @type {HTMLTextAreaElement} */ (h("textarea", { class: "field", spellcheck: "false", "aria-label": "The table, one row a line, names of the columns first", placeholder: "V_in (V), I_in (A), V_out (V), I_out (A)\n12.01, 0.853, 3.29, 2.50" }));
  const name = /** @type {HTMLInputElement} */ (h("input", { class: "field", value: "pasted table", "aria-label": "Name", autocomplete: "off" }));
  const said = h("div", { role: "alert" });
  const dialog = /** @type {HTMLDialogElement} */ (h("dialog", { "aria-label": "Paste a table", onclose: () => dialog.remove() },
    h("h2", null, "Paste a table"),
    h("div", { class: "stack" },
      h("p", { class: "note" }, "One row a line, the names of the columns first, units in the names. Separated by tabs, commas or semicolons."),
      name, area, said,
      h("div", { class: "acts" },
        h("button", { class: "btn", onclick: () => dialog.close() }, "Cancel"),
        h("button", {
          class: "btn main", onclick: () => {
            if (!area.value.trim()) {
              said.replaceChildren(wrong("There is nothing to read yet.", "Paste the table above."));
              area.focus();
              return;
            }
            dialog.close();
            openText(name.value.trim() || "pasted table", area.value);
          },
        }, "Read it")))));
  document.body.append(dialog);
  dialog.showModal();
  area.focus();
}

