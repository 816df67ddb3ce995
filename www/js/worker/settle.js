// @ts-check
// The evaluation in short steps, and when answers are begun.

import { QUICK, breathe, checkStillWanted, desk, progress } from "./desk.js";
import { keys } from "./logs.js";

/** How long a step is meant to last, ms: a moved slider waits for its end. */
const STEP = 10;
/** Answers that take longer than this wait until a moved slider rests, ms; and how long they wait at most. */
const [QUICK_ANSWERS, REST] = [100, 500];
/** Rows of the first step; later ones follow what was measured. */
let budget = 131072;

/** How long answers took the last time they were worked out, as far as that came, ms. */
let answersTook = 0;

/** Waits while a slider may still be moved on; whoever only looks is answered meanwhile. */
async function untilAtRest() {
  const until = performance.now() + Math.min(answersTook, REST);
  const others = () => desk.waiting.some((other) => !QUICK.has(other.kind));
  while (performance.now() < until && !others()) {
    await new Promise((done) => {
      const timer = setTimeout(done, until - performance.now());
      desk.arrived = () => {
        clearTimeout(timer);
        done(undefined);
      };
    });
    checkStillWanted();
    await desk.answerQuick();
  }
  checkStillWanted();
}

/** Evaluates what is stale, step by step; only until the rows stand where that is enough. */
export async function settle(rowsOnly = false) {
  let answering = 0;
  for (;;) {
    if (desk.handle.rows_ready()) {
      if (rowsOnly) return;
      if (answering === 0) {
        if (desk.running?.kind === "settings" && answersTook > QUICK_ANSWERS) await untilAtRest();
        answering = performance.now();
      }
    }
    const before = performance.now();
    const step = desk.handle.advance(budget);
    if (answering > 0 && step.stage !== "done") {
      const soFar = performance.now() - answering;
      answersTook = step.done ? soFar : Math.max(answersTook, soFar);
    }
    if (step.done) return;
    const took = performance.now() - before;
    const fit = took > 0 ? (budget * STEP) / took : budget * 2;
    budget = Math.round(Math.min(Math.max(fit, 16384), 4 * budget, 4194304));
    progress(step.stage, step.rows_done, step.rows_total);
    await breathe();
    checkStillWanted();
    await desk.answerQuick();
  }
}

/** The view model of everything, worked out. */
export async function view() {
  await settle();
  return Object.assign(desk.handle.view(), { keys: [...keys] });
}
