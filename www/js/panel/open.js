// @ts-check
// Ways in: choosing, dropping, pasting, the demo.

import { h } from "../dom.js";
import { logsIn, openBench, openFiles, openText, pastedName } from "../inputs.js";
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

/** The files of what was dropped or pasted, and the names of folders among it. @param {DataTransfer|null} transfer */
function filesOf(transfer) {
  if (!transfer) return { files: [], folders: [] };
  /** @type {string[]} */
  const folders = [];
  for (const item of transfer.items ?? []) {
    const entry = item.kind === "file" ? item.webkitGetAsEntry?.() : null;
    if (entry?.isDirectory) folders.push(entry.name);
  }
  return { files: [...transfer.files].filter((file) => !folders.includes(file.name)), folders };
}

/** Whether a pasted text can be a table: several lines, or cells parted by tabs, and a digit. @param {string} text */
function isTable(text) {
  return /\d/.test(text) && /[^\r\n][\r\n]+[^\r\n]|\t/.test(text);
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
    const { files, folders } = filesOf(event.dataTransfer);
    const card = state.phase === "bench" ? "log" : "";
    if (folders.length) notify(card, `${folders[0]} is a folder, not a log.`, "Open it and drop the files inside.");
    if (files.length) openFiles(files);
    else if (!folders.length) notify(card, "What was dropped holds no file.", "Drop a text file, or choose it with the button.");
  });
  addEventListener("paste", (event) => {
    const target = event.target;
    if (target instanceof HTMLElement && target.closest("input, textarea, dialog")) return;
    // A spreadsheet puts a picture of the cells beside their text: the text is the table.
    const text = event.clipboardData?.getData("text/plain") ?? "";
    if (isTable(text)) {
      event.preventDefault();
      openText(pastedName(), text);
      return;
    }
    const { files } = filesOf(event.clipboardData);
    if (files.length) openFiles(files);
    else if (text.trim()) notify(state.phase === "bench" ? "log" : "", "What was pasted is no table.", "Copy the rows with the names of their columns, one row a line.");
  });
}

/** A dialog that takes a pasted table. */
export function pasteTable() {
  const area = /** @type {HTMLTextAreaElement} */ (h("textarea", { class: "field", spellcheck: "false", "aria-label": "The table, one row a line, names of the columns first", placeholder: "V_in (V), I_in (A), V_out (V), I_out (A)\n12.01, 0.853, 3.29, 2.50" }));
  const name = /** @type {HTMLInputElement} */ (h("input", { class: "field", value: pastedName(), "aria-label": "Name", autocomplete: "off" }));
  const said = h("div", { role: "alert" });
  const dialog = /** @type {HTMLDialogElement} */ (h("dialog", { "aria-label": "Paste a table", onclose: () => dialog.remove() },
    h("h2", null, "Paste a table"),
    h("div", { class: "stack" },
      h("p", { class: "note" }, "One row a line, the names of the columns first, units in the names. Parted by tabs, commas or semicolons. A table can also be pasted anywhere on the page."),
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
            openText(name.value.trim() || pastedName(), area.value);
          },
        }, "Read it")))));
  document.body.append(dialog);
  dialog.showModal();
  area.focus();
}

