// @ts-check
// What is asked of one log only while its card is open: rows as they stand in the text, and what its
// columns span. Answers are kept until the log is read differently.

import { sourceOf } from "./inputs.js";
import { ask } from "./link.js";
import { changed, overtaken, state } from "./state.js";

/** @type {Map<string, any>} answers; null while one is on its way */
const known = new Map();

/** What a log's answers depend on. @param {number} input */
function mark(input) {
  const view = state.view?.inputs?.[input];
  const said = state.view?.settings?.inputs?.[input] ?? {};
  return JSON.stringify([state.view?.keys?.[input] ?? input, view?.name, view?.bytes, view?.rows_found, view?.outcome, said.read, said.columns]);
}

/** An answer, or null until it is there; the panels are drawn again when it comes. @param {string} name @param {number} input @param {() => Promise<any>} question @returns {any} */
function lasting(name, input, question) {
  if (state.early || state.core !== "ready") return null;
  const key = `${name} ${mark(input)}`;
  if (known.has(key)) return known.get(key);
  if (known.size > 400) known.clear();
  known.set(key, null);
  question().then((answer) => {
    known.set(key, answer ?? { none: true });
    changed();
  }, (error) => {
    // Asked again at the next look; what cannot be read any more says so once, in its place.
    if (overtaken(error)) known.delete(key);
    else known.set(key, { failed: error });
    changed();
  });
  return null;
}

/** The first rows of a log as they stand. @param {number} input */
export function firstRows(input) {
  return lasting("first", input, () => ask("first", { input }));
}

/** The first rows in which something was lost. @param {number} input */
export function worstRows(input) {
  return lasting("worst", input, () => ask("worst", { input }));
}

/** What the columns of a log span. @param {number} input */
export function columnRanges(input) {
  return lasting("ranges", input, () => ask("columns", { input }));
}

/** Lines shown of a text in which no row was found. */
const HEAD_LINES = 8;

/** The first lines of a log as text, for one in which no row was found. @param {number} input @returns {{lines: string[]}|null} */
export function headLines(input) {
  return lasting("head", input, async () => {
    const blob = await sourceOf(input)?.blob?.();
    if (!blob) return { lines: [] };
    const said = state.view?.settings?.inputs?.[input]?.read?.encoding ?? state.view?.inputs?.[input]?.understood?.encoding ?? "utf-8";
    const bytes = await blob.slice(0, 4096).arrayBuffer();
    let text;
    try {
      text = new TextDecoder(String(said).toLowerCase() || "utf-8").decode(bytes);
    } catch {
      text = new TextDecoder().decode(bytes);
    }
    return { lines: text.split(/\r\n|\r|\n/).slice(0, HEAD_LINES).map((line) => line.slice(0, 300).replace(/\p{Cc}/gu, "·")) };
  });
}
