// @ts-check
// One line to the core: starts it once, holds requests until it runs, hands on progress and mishaps.

import { Wire, figures } from "./wire.js";

const wire = new Wire();
/** @type {Promise<void>|null} */
let started = null;
/** @type {any} */
let pen = null;

/** Starts the core; resolves once it takes requests and can draw. */
export function start() {
  started ??= (async () => {
    await wire.start();
    pen = await figures();
  })();
  return started;
}

/**
 * Asks the core. Rejects with `{code, message, hint, at}`.
 * @param {string} kind @param {any} [payload] @param {{latest?: boolean}} [options] @returns {Promise<any>}
 */
export async function ask(kind, payload = {}, options = {}) {
  await start();
  return wire.ask(kind, payload, options);
}

/** Gives up the long work that runs. */
export function cancel() {
  wire.cancel();
}

/** @param {(progress: {stage: string, done: number, total: number, file: string|null}) => void} listener */
export function onProgress(listener) {
  wire.onprogress = listener;
}

/** @param {(failure: any) => void} listener */
export function onDeath(listener) {
  wire.ondeath = listener;
}

/** How many questions wait for their answer. */
export function waiting() {
  return wire.open.size;
}

/** What draws axes and small figures on the page, or null before the core runs. */
export function pencil() {
  return pen;
}
