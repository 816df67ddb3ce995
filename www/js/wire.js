// @ts-check
// Page end of the worker: asks, cancels, hears of progress, and replaces a worker that died.
//
// The page keeps what a fresh worker needs to stand where the old one stood: the File objects and
// texts in the order they were opened, and the last settings.

import { bytesFromBase64 } from "./base64.js";

/** @typedef {{code: string, message: string, hint: string|null, at: object|null}} Failure */

/** Kinds of which only the newest matters, unless asked otherwise. */
const LATEST = new Set(["raster", "hover", "strip", "rows", "settings", "pick"]);
/** Kinds that change what a fresh worker must be told again. */
const LASTING = new Set(["open", "openText", "openBench", "remove", "arrange"]);

/** @type {Promise<WebAssembly.Module>|null} */
let compiled = null;
/** @type {any} */
let pageCore = null;

/** The text of one of the page's blocks. */
function block(id) {
  const element = document.getElementById(id);
  if (!element) throw new Error(`this page lacks its part ${id}`);
  return element.textContent || "";
}

async function inflate(bytes) {
  const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("deflate-raw"));
  return new Response(stream).arrayBuffer();
}

/** The core, compiled once for the page and every worker. */
export function compile() {
  if (!compiled) compiled = inflate(bytesFromBase64(block("code-wasm"))).then((bytes) => WebAssembly.compile(bytes));
  return compiled;
}

/**
 * The page's own instance of the core, for figures: `axes`, `curves`, `bars`, `cells`, `tally`, each
 * `(canvas, spec)` and giving back where the frame lies; `vector` gives one of them as an SVG file.
 */
export async function figures() {
  const module = await compile();
  if (!pageCore) {
    // @ts-ignore declared by the glue block
    pageCore = wasm_bindgen;
    pageCore.initSync({ module });
    pageCore.start_page();
  }
  return { axes: pageCore.axes, curves: pageCore.curves, bars: pageCore.bars, cells: pageCore.cells, tally: pageCore.tally, vector: pageCore.vector };
}

/** A worker that is told everything by `ask`. */
export class Wire {
  constructor() {
    /** @type {Worker|null} */
    this.worker = null;
    /** @type {Map<number, any>} requests without an answer */
    this.open = new Map();
    /** @type {{kind: string, payload: any}[]} */
    this.journal = [];
    /** @type {any} */
    this.lastSettings = null;
    this.number = 0;
    this.deaths = 0;
    /** @type {(progress: {stage: string, done: number, total: number, file: string|null}) => void} */
    this.onprogress = () => {};
    /** Called when a worker died and a fresh one stands in its place, or none could. */
    /** @type {(failure: Failure) => void} */
    this.ondeath = () => {};
    /** Counts workers; what belongs to an older one is left alone. */
    this.generation = 0;
    this.replaying = false;
  }

  /** Starts the first worker; resolves once it takes requests. */
  async start() {
    const module = await compile();
    const url = URL.createObjectURL(new Blob([block("code-glue"), "\n", block("code-worker")], { type: "text/javascript" }));
    const worker = new Worker(url);
    this.worker = worker;
    await new Promise((ready, failed) => {
      let started = false;
      worker.onmessage = ({ data }) => {
        if (worker !== this.worker) return;
        if (data.ready) {
          started = true;
          ready(undefined);
        } else {
          this.#hear(data);
        }
      };
      worker.onerror = (event) => {
        if (!started) failed(new Error(event.message));
        else if (worker === this.worker) this.#died(null, event.message);
      };
      worker.postMessage({ start: module });
    });
    URL.revokeObjectURL(url);
  }

  /**
   * Asks the worker. Rejects with a Failure: `stale` where a newer request took its place,
   * `cancelled`, `panic`, or what the core says.
   * @param {string} kind
   * @param {any} [payload]
   * @param {{latest?: boolean}} [options]
   * @returns {Promise<any>}
   */
  ask(kind, payload = {}, options = {}) {
    const latest = options.latest ?? LATEST.has(kind);
    const key = latest ? `${kind} ${payload.run ?? payload.input ?? ""}` : null;
    return new Promise((resolve, reject) => {
      const id = (this.number += 1);
      this.open.set(id, { id, kind, payload, key, resolve, reject });
      if (this.worker && !this.replaying) this.worker.postMessage({ id, kind, payload, key });
    });
  }

  /** Stops the long work that runs; its promise rejects with `cancelled`. */
  cancel() {
    if (this.worker) this.worker.postMessage({ cancel: true });
  }

  /** Ends the worker at once and puts a fresh one in its place; what was open is read again. */
  async restart() {
    await this.#replace(null);
  }

  #hear(data) {
    if (data.progress) {
      this.onprogress(data.progress);
    } else if (data.panic) {
      this.#died(data.panic.id, data.panic.message);
    } else if (this.open.has(data.id)) {
      const request = this.open.get(data.id);
      this.open.delete(data.id);
      if (data.error) {
        request.reject(data.error);
        return;
      }
      this.deaths = 0;
      if (!request.replay) this.#remember(request, data.reply);
      request.resolve(data.reply);
    }
  }

  #remember({ kind, payload }, reply) {
    // Every reply that is a view carries the settings as they stand, also for inputs that moved up.
    if (reply && reply.settings) this.lastSettings = { settings: reply.settings };
    if (!LASTING.has(kind)) return;
    if (kind === "openBench") this.journal = [];
    // A log that grew takes the place of its shorter state, which may be gone from the disk.
    const grown = new Map((reply?.opened ?? []).filter((/** @type {any} */ one) => one.grown).map((/** @type {any} */ one) => [payload.files[one.file].name, payload.files[one.file]]));
    for (const step of this.journal) {
      if (step.kind === "open") step.payload.files = step.payload.files.map((/** @type {File} */ file) => grown.get(file.name) ?? file);
    }
    const files = kind === "open" ? payload.files.filter((/** @type {File} */ file) => !grown.has(file.name)) : null;
    if (!files || files.length > 0) this.journal.push({ kind, payload: files ? { ...payload, files } : payload });
  }

  async #died(id, message) {
    const failure = {
      code: "panic",
      message: "The core stopped on a mistake of its own; it was started again and your logs are read anew.",
      hint: "Please keep the log that caused it; the last step was not done.",
      at: { panic: message },
    };
    const guilty = id === null ? null : this.open.get(id);
    if (guilty) {
      this.open.delete(id);
      guilty.reject(guilty.replay ? { ...failure, code: "superseded" } : failure);
    }
    this.deaths += 1;
    if (this.deaths > 2) {
      // It dies again and again on what is open: stand empty rather than turn in circles.
      this.journal = [];
      this.lastSettings = null;
      this.deaths = 0;
      failure.code = "lost";
      failure.message = "The core stopped again while reading what was open. The bench is empty now.";
    }
    await this.#replace(failure);
  }

  async #replace(failure) {
    const generation = (this.generation += 1);
    if (this.worker) this.worker.terminate();
    this.worker = null;
    this.replaying = true;
    for (const request of [...this.open.values()]) {
      if (request.replay) {
        this.open.delete(request.id);
        request.reject({ code: "superseded", message: "Started again.", hint: null, at: null });
      }
    }
    let problem = failure;
    try {
      await this.start();
      for (const step of this.journal) await this.#again(step.kind, step.payload);
      if (this.lastSettings) await this.#again("settings", this.lastSettings);
    } catch (error) {
      if (generation !== this.generation) return;
      problem = asFailure(error);
    }
    if (generation !== this.generation) return;
    this.replaying = false;
    for (const { id, kind, payload, key } of this.open.values()) {
      if (this.worker) this.worker.postMessage({ id, kind, payload, key });
    }
    if (problem) this.ondeath(problem);
  }

  #again(kind, payload) {
    return new Promise((resolve, reject) => {
      const id = (this.number += 1);
      this.open.set(id, { id, kind, payload, key: null, resolve, reject, replay: true });
      if (this.worker) this.worker.postMessage({ id, kind, payload, key: null });
    });
  }
}

/** @returns {Failure} */
export function asFailure(error) {
  if (error && typeof error === "object" && typeof error.code === "string") return error;
  return { code: "unexpected", message: String((error && error.message) || error), hint: null, at: null };
}
