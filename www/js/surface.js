// @ts-check
// A small surface for tests in a real browser.

import { state } from "./state.js";
import { ask, cancel, waiting } from "./link.js";

/** Puts `window.wattsieve` in place: the results as the command writes them, evaluation counts, the page's state. */
export function installTestSurface() {
  /** @type {any} */ (window).wattsieve = {
    ask,
    cancel,
    results: () => ask("export", { what: "results" }).then((/** @type {any} */ file) => file.text),
    counts: () => ask("counts", {}),
    state: () => ({
      phase: state.phase, core: state.core, busy: state.busy !== null, stale: state.stale, asking: waiting(), run: state.run, tab: state.tab,
      reading: state.reading, frame: state.frame, picked: state.picked && { ...state.picked, rows: state.picked.rows.length }, settings: state.settings, notices: state.notices.map((notice) => notice.text), view: state.viewNumber,
    }),
  };
}
