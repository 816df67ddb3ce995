// @ts-check
// What panels ask about a run besides its results.

import { currentRun, state } from "./state.js";

/** Whether a run's rows have times; a table of settled points may have none. @param {any} [run] */
export function isTimed(run = currentRun()) {
  return (run?.parts ?? []).every((/** @type {any} */ part) => state.view?.inputs?.[part.input]?.understood?.time?.form !== "none");
}
