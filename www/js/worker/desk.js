// @ts-check
// What the worker's modules share: the core, the requests, and how long work lets the queue in.

/** How often progress is told at most, ms. */
const TELL = 40;

/** What stands on the worker's desk. */
export const desk = {
  /** The wasm side; null until started. @type {any} */
  handle: null,
  /** Requests that wait, in the order they came. @type {any[]} */
  waiting: [],
  /** The request that runs. @type {any} */
  running: null,
  cancelled: false,
  dead: false,
  /** Number of the next input; the page says where to begin, so that a fresh worker counts alike. */
  nextKey: 0,
  /** Hears of every message, for whoever waits for one. */
  arrived: () => {},
  /** Answers whoever only looks, while something long is done. */
  answerQuick: async () => {},
};

/** Kinds that only look, and may be answered while a log is still being read. */
export const QUICK = new Set(["hover", "walk", "raster", "strip", "rows", "pick", "bins"]);

const channel = new MessageChannel();
/** @type {(() => void)|null} */
let resume = null;
channel.port1.onmessage = () => {
  const go = resume;
  resume = null;
  if (go) go();
};

/** Lets the message queue in. */
export function breathe() {
  return new Promise((done) => {
    resume = () => done(undefined);
    channel.port2.postMessage(0);
  });
}

/** An error in words. @param {string} code @param {string} message @param {string|null} [hint] @param {object|null} [at] */
export function failure(code, message, hint, at) {
  return { code, message, hint: hint || null, at: at || null };
}

/** Ends the running request where it was cancelled or a newer one of its key waits. */
export function checkStillWanted() {
  if (desk.cancelled) throw failure("cancelled", "Cancelled.");
  if (desk.running && desk.running.key && desk.waiting.some((other) => other.key === desk.running.key)) {
    throw failure("stale", "A newer request of this kind came in.");
  }
}

/** What was told last, and when. */
let told = { stage: "", at: 0 };

/** Tells the page how far a stage came. */
export function progress(stage, done, total, file) {
  const now = performance.now();
  if (stage === told.stage && now - told.at < TELL) return;
  told = { stage, at: now };
  self.postMessage({ progress: { stage, done, total, file: file || null } });
}

/** Whether the core itself failed. */
export function isTrap(error) {
  return error instanceof WebAssembly.RuntimeError;
}

/** Whether an error is in words already. */
export function isOurs(error) {
  return Boolean(error && typeof error === "object" && typeof error.code === "string" && "message" in error
    && !(error instanceof Error) && !(error instanceof DOMException));
}

/** Any error in words, with the file it came of. */
export function asFailure(error, file) {
  if (isOurs(error)) return error;
  const missing = error instanceof DOMException;
  return failure(
    missing ? "file_unreadable" : "unexpected",
    missing ? `${file || "A log"} could not be read from the disk (${error.name}).` : String((error && error.message) || error),
    missing ? "It is a folder, or it was moved or changed while it was read or since it was chosen. Choose the log again." : null,
    file ? { file } : null,
  );
}
