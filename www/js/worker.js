// @ts-check
// Worker end: owns the core, the data and the bench. A plain script that follows wasm-bindgen's
// glue in one Blob, so it imports nothing.
//
// In:  {start: WebAssembly.Module}, {id, kind, payload, key}, {cancel: true}
// Out: {ready: true}, {id, reply}, {id, error}, {progress}, {panic}
//
// One request runs at a time. Long ones are sequences of short steps; between two steps the
// message queue is let in, so that a cancel or a newer request of the same key is seen at once.
"use strict";

(() => {
  /** How long reading may keep the queue waiting, ms. */
  const PATIENCE = 30;
  /** How long a step of the evaluation is meant to last, ms: a moved slider waits for its end. */
  const STEP = 10;
  /** Answers that take longer than this wait until a moved slider rests, ms; and how long they wait at most. */
  const [QUICK_ANSWERS, REST] = [100, 500];
  /** How often progress is told at most, ms. */
  const TELL = 40;
  /** Bytes of a file that are fetched at once. */
  const PIECE = 1 << 20;
  /** Bytes handed to the core at once; they stay near the processor while they are copied and read. */
  const SLICE = 1 << 18;
  /** Rows of the first step; later ones follow what was measured. */
  const FIRST_BUDGET = 131072;

  /** @type {any} the wasm side; null until started */
  let handle = null;
  /** @type {any[]} requests that wait, in the order they came */
  const waiting = [];
  /** @type {Blob[]} where each input's bytes come from, in the order of the inputs */
  const sources = [];
  /** @type {number[]} the number under which the page opened each input */
  const keys = [];
  /** Everything that was opened, also what was taken out since. @type {Map<number, {name: string, blob: Blob}>} */
  const shelf = new Map();
  /** Number of the next input; the page says where to begin, so that a fresh worker counts alike. */
  let nextKey = 0;
  /** @type {any} the request that runs */
  let running = null;
  let cancelled = false;
  let dead = false;
  let budget = FIRST_BUDGET;
  /** What is being read. A stream that only its own pending read refers to may be collected as
   * garbage, and then the read never ends. @type {Set<any>} */
  const reading = new Set();

  /** Hears of every message, for whoever waits for one. */
  let arrived = () => {};

  const channel = new MessageChannel();
  /** @type {(() => void)|null} */
  let resume = null;
  channel.port1.onmessage = () => {
    const go = resume;
    resume = null;
    if (go) go();
  };

  /** Lets the message queue in. */
  function breathe() {
    return new Promise((done) => {
      resume = () => done(undefined);
      channel.port2.postMessage(0);
    });
  }

  function failure(code, message, hint, at) {
    return { code, message, hint: hint || null, at: at || null };
  }

  /** Ends the running request where it was cancelled or a newer one of its key waits. */
  function checkStillWanted() {
    if (cancelled) throw failure("cancelled", "Cancelled.");
    if (running && running.key && waiting.some((other) => other.key === running.key)) {
      throw failure("stale", "A newer request of this kind came in.");
    }
  }

  let told = { stage: "", at: 0 };
  function progress(stage, done, total, file) {
    const now = performance.now();
    if (stage === told.stage && now - told.at < TELL) return;
    told = { stage, at: now };
    self.postMessage({ progress: { stage, done, total, file: file || null } });
  }

  /** How long answers took the last time they were worked out, as far as that came, ms. */
  let answersTook = 0;

  /** Waits while a slider may still be moved on; whoever only looks is answered meanwhile. */
  async function moved() {
    const until = performance.now() + Math.min(answersTook, REST);
    const others = () => waiting.some((other) => !QUICK.has(other.kind));
    while (performance.now() < until && !others()) {
      await new Promise((done) => {
        const timer = setTimeout(done, until - performance.now());
        arrived = () => {
          clearTimeout(timer);
          done(undefined);
        };
      });
      checkStillWanted();
      await answerQuick();
    }
    checkStillWanted();
  }

  /** Evaluates what is stale, step by step; only until the rows stand where that is enough. */
  async function settle(rowsOnly = false) {
    let answering = 0;
    for (;;) {
      if (handle.rows_ready()) {
        if (rowsOnly) return;
        if (answering === 0) {
          if (running?.kind === "settings" && answersTook > QUICK_ANSWERS) await moved();
          answering = performance.now();
        }
      }
      const before = performance.now();
      const step = handle.advance(budget);
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
      await answerQuick();
    }
  }

  async function view() {
    await settle();
    return Object.assign(handle.view(), { keys: [...keys] });
  }

  /** Cuts a stream of chunks into pieces of exactly `size` bytes, the last one shorter. */
  async function* cut(chunks, size) {
    let rest = new Uint8Array(0);
    for await (const chunk of chunks) {
      let bytes = chunk;
      if (rest.length > 0) {
        bytes = new Uint8Array(rest.length + chunk.length);
        bytes.set(rest);
        bytes.set(chunk, rest.length);
      }
      let at = 0;
      for (; bytes.length - at >= size; at += size) yield bytes.subarray(at, at + size);
      rest = bytes.slice(at);
    }
    if (rest.length > 0) yield rest;
  }

  /** A blob's bytes in pieces, each in the room of the last one: whoever keeps bytes copies them. */
  async function* chunksOf(blob) {
    const reader = byteReader(blob.stream());
    reading.add(reader);
    let room = new ArrayBuffer(PIECE);
    let left = blob.size;
    try {
      for (;;) {
        // A file that is gone or changed may fail as a network would, and says no more than that.
        const { done, value } = await reader.read(new Uint8Array(room)).catch((error) => {
          throw error instanceof DOMException ? error : new DOMException(String(error?.message ?? error), "NotReadableError");
        });
        if (done) {
          // A file that has lost its end may end its stream as if nothing were wrong.
          if (left > 0) throw new DOMException("The file is shorter than it was.", "NotReadableError");
          return;
        }
        left -= value.length;
        for (let from = 0; from < value.length; from += SLICE) yield value.subarray(from, from + SLICE);
        room = value.buffer;
      }
    } finally {
      reading.delete(reader);
      // Whoever stops early waits for it no more.
      reader.cancel().catch(() => {});
    }
  }

  /** A reader that fills the room it is given, where the browser has one; else one that brings its own. */
  function byteReader(stream) {
    try {
      return stream.getReader({ mode: "byob" });
    } catch {
      return stream.getReader();
    }
  }

  /** Lets the queue in after each stretch of patience; tells how far reading came. */
  function pacer(stage, before, total, name, stoppable) {
    let last = performance.now();
    return async (done) => {
      if (performance.now() - last < PATIENCE) return;
      progress(stage, before + done, total, name);
      await breathe();
      if (stoppable) {
        checkStillWanted();
        await answerQuick();
      }
      last = performance.now();
    };
  }

  /** Feeds a blob's bytes to a function, piece by piece. */
  async function feed(blob, chunk, take, pace) {
    let done = 0;
    const chunks = chunksOf(blob);
    for await (const bytes of chunk ? cut(chunks, chunk) : chunks) {
      if (take(bytes) === true) return;
      done += bytes.length;
      await pace(done);
    }
  }

  function takeOut(input) {
    handle.remove(input);
    sources.splice(input, 1);
    keys.splice(input, 1);
  }

  /** Reads a blob into the bench; what was begun is taken out again where that fails. */
  async function read(name, blob, chunk, before, total) {
    const input = handle.begin(name, blob.size);
    sources[input] = blob;
    keys[input] = nextKey;
    shelf.set(nextKey, { name, blob });
    nextKey += 1;
    try {
      await feed(blob, chunk, (bytes) => handle.push(input, bytes), pacer("read", before, total, name, true));
      handle.finish(input);
      return input;
    } catch (error) {
      if (!isTrap(error)) takeOut(input);
      throw error;
    }
  }

  /** Reads on in an input of which this is a longer state; null where it is another log. */
  async function readOn(name, blob, before, total) {
    const known = handle.may_have_grown(name, blob.size);
    if (!known) return null;
    const [input, bytes] = known;
    const sum = new wasm_bindgen.Sum();
    await feed(blob.slice(0, bytes), 0, (piece) => sum.push(piece), pacer("read", before, total, name, true));
    const from = handle.grow(input, sum, blob.size);
    if (from === undefined) return null;
    try {
      await feed(blob.slice(from), 0, (piece) => handle.push(input, piece), pacer("read", before + from, total, name, false));
    } catch (error) {
      if (!isTrap(error)) handle.abandon(input);
      throw error;
    }
    handle.finish(input);
    sources[input] = blob;
    shelf.set(keys[input], { name, blob });
    return input;
  }

  /** Reads inputs again whose way of reading changed; gives those that were read where one fails. */
  async function readAgain(inputs) {
    const done = [];
    for (const input of inputs) {
      const blob = sources[input];
      try {
        handle.begin_again(input, blob.size);
        await feed(blob, 0, (bytes) => handle.push(input, bytes), pacer("read", 0, blob.size, null, false));
      } catch (error) {
        if (isTrap(error)) throw error;
        handle.abandon(input);
        return { done, error: asFailure(error, shelf.get(keys[input])?.name) };
      }
      handle.finish(input);
      done.push(input);
    }
    return { done, error: null };
  }

  /** Bytes of a part of a file. */
  async function bytesOf(blob, from, end) {
    return new Uint8Array(await blob.slice(from, end).arrayBuffer());
  }

  /** Unpacks a blob to another one. */
  async function unpack(blob, unpacker, name) {
    const parts = [];
    try {
      await feed(blob, 0, (bytes) => parts.push(unpacker.push(bytes)) < 0, pacer("unpack", 0, blob.size, name, true));
    } catch (error) {
      unpacker.free();
      throw error;
    }
    unpacker.finish();
    return new Blob(parts);
  }

  /** The logs of a file: itself, or what is packed in it; told by content. Each may fail alone. */
  async function* logsOf(file) {
    const packing = wasm_bindgen.packing(await bytesOf(file, 0, 4));
    if (packing === "plain") {
      yield { name: file.name, unpacked: async () => file, packedIn: null };
    } else if (packing === "gzip") {
      const unpacked = () => unpack(file, wasm_bindgen.Unpacker.gzip(), file.name);
      yield { name: wasm_bindgen.unpacked_name(file.name), unpacked, packedIn: file.name };
    } else {
      const tail = await bytesOf(file, Math.max(0, file.size - wasm_bindgen.Archive.tail()), file.size);
      const archive = new wasm_bindgen.Archive(tail, file.size);
      try {
        const names = archive.read(await bytesOf(file, ...archive.place()));
        for (const [at, name] of names.entries()) {
          const unpacked = async () => {
            const header = archive.header_of(at);
            const data = archive.data(at, await bytesOf(file, header, header + wasm_bindgen.Archive.header()));
            return unpack(file.slice(...data), archive.unpacker(at), name);
          };
          yield { name, unpacked, packedIn: file.name };
        }
      } finally {
        archive.free();
      }
    }
  }

  function isTrap(error) {
    return error instanceof WebAssembly.RuntimeError;
  }

  function isOurs(error) {
    return Boolean(error && typeof error === "object" && typeof error.code === "string" && "message" in error
      && !(error instanceof Error) && !(error instanceof DOMException));
  }

  /** Reads several files; each that cannot be read is named, the others stay. */
  async function open({ files, chunk }) {
    const total = files.reduce((sum, file) => sum + file.size, 0);
    const failed = [];
    const opened = [];
    const undo = () => {
      for (const one of opened.reverse()) if (!one.grown) takeOut(one.input);
    };
    // Whether it ends the whole request; else it is noted with the file's name.
    const note = (error, name) => {
      const ends = isTrap(error) || (isOurs(error) && (error.code === "cancelled" || error.code === "stale"));
      if (!ends) failed.push({ name, ...asFailure(error, name) });
      else if (!isTrap(error)) undo();
      return ends;
    };
    let before = 0;
    for (const [at, file] of files.entries()) {
      progress("read", before, total, file.name);
      try {
        for await (const { name, unpacked, packedIn } of logsOf(file)) {
          try {
            const blob = await unpacked();
            const again = await readOn(name, blob, before, total);
            const input = again ?? (await read(name, blob, chunk, before, total));
            const rows = again === null ? null : handle.new_rows(input);
            opened.push({ input, name, bytes: blob.size, blob, file: at, packed_in: packedIn, grown: again !== null, new_rows: rows });
          } catch (error) {
            if (note(error, packedIn && packedIn !== name ? `${name} in ${packedIn}` : name)) throw error;
          }
        }
      } catch (error) {
        if (isTrap(error) || (isOurs(error) && (error.code === "cancelled" || error.code === "stale"))) throw error;
        note(error, file.name);
      }
      before += file.size;
    }
    if (failed.length > 0 && opened.length === 0) throw failed[0];
    try {
      return { ...(await view()), failed, opened };
    } catch (error) {
      if (isOurs(error) && error.code === "cancelled") undo();
      throw error;
    }
  }

  function asFailure(error, file) {
    if (isOurs(error)) return error;
    const missing = error instanceof DOMException;
    return failure(
      missing ? "file_unreadable" : "unexpected",
      missing ? `${file || "A log"} could not be read from the disk (${error.name}).` : String((error && error.message) || error),
      missing ? "It is a folder, or it was moved or changed while it was read or since it was chosen. Choose the log again." : null,
      file ? { file } : null,
    );
  }

  function decode(base64) {
    const text = base64.trim();
    // @ts-ignore not in every browser yet
    if (Uint8Array.fromBase64) return Uint8Array.fromBase64(text);
    return Uint8Array.from(atob(text), (c) => c.charCodeAt(0));
  }

  /** Opens a saved bench: its settings and the logs that it carries, deflated and in base64. */
  async function openBench({ bench, logs, chunk }) {
    const blobs = [];
    for (const [at, log] of logs.entries()) {
      progress("unpack", at, logs.length, log.name);
      blobs.push(await unpacked(log));
      await breathe();
      checkStillWanted();
    }
    handle.clear(bench || null);
    sources.length = 0;
    keys.length = 0;
    const total = blobs.reduce((sum, blob) => sum + blob.size, 0);
    let before = 0;
    for (const [at, blob] of blobs.entries()) {
      await read(logs[at].name, blob, chunk, before, total);
      before += blob.size;
    }
    return view();
  }

  /** A carried log as it was; refused where it is not the one whose hash is written beside it. */
  async function unpacked(log) {
    const damaged = () => failure("log_damaged", `The copy of ${log.name} inside this page is damaged.`,
      "Open the original page, or the log itself.", { file: log.name });
    let blob;
    try {
      const packed = new Blob([decode(log.base64)]);
      blob = await new Response(packed.stream().pipeThrough(new DecompressionStream("deflate-raw"))).blob();
    } catch {
      throw damaged();
    }
    if (log.sha256) {
      const hash = new wasm_bindgen.Hash();
      await feed(blob, 0, (bytes) => hash.push(bytes), async () => {});
      if (hash.finish() !== log.sha256.toLowerCase()) throw damaged();
    }
    return blob;
  }

  async function settings({ settings: wanted }) {
    const before = handle.settings();
    const again = handle.set_settings(wanted);
    const back = async (done) => {
      const changed = handle.set_settings(before);
      await readAgain(changed.filter((input) => done.includes(input)));
    };
    const { done, error } = await readAgain(again);
    if (error) {
      // What was read before is still there; only what was read the new way is read the old way again.
      await back(done);
      throw asFailure(error, null);
    }
    try {
      return await view();
    } catch (failed) {
      if (isOurs(failed) && failed.code === "cancelled") await back(done);
      throw failed;
    }
  }

  /** Puts back what was open: takes out what was not, reads again what was, in its order and with its settings. */
  async function arrange({ keys: wanted, settings: kept }) {
    for (let input = keys.length - 1; input >= 0; input -= 1) if (!wanted.includes(keys[input])) takeOut(input);
    let same = 0;
    while (same < keys.length && keys[same] === wanted[same]) same += 1;
    while (keys.length > same) takeOut(keys.length - 1);
    const again = handle.set_settings(kept);
    const failed = [];
    const { error: unread } = await readAgain(again);
    if (unread) failed.push({ name: null, ...unread });
    for (const key of wanted.slice(same)) {
      const { name, blob } = shelf.get(key) ?? {};
      const at = keys.length;
      try {
        if (!blob) throw failure("log_gone", "A log that was open before is no longer at hand.", "Choose it again.");
        const input = handle.begin(name, blob.size);
        sources[input] = blob;
        keys[input] = key;
        await feed(blob, 0, (bytes) => handle.push(input, bytes), pacer("read", 0, blob.size, name, false));
        handle.finish(input);
      } catch (error) {
        if (isTrap(error)) throw error;
        if (keys.length > at) takeOut(at);
        failed.push({ name, ...asFailure(error, name) });
      }
    }
    return { ...(await view()), failed };
  }

  /** Some rows of an input as they stand in its text. */
  async function preview({ input, first, count }) {
    const picker = handle.preview(input, first, count);
    const blob = sources[input];
    await feed(blob, 0, (bytes) => picker.push(bytes), pacer("read", 0, blob.size, null, true));
    return picker.finish();
  }

  /** Hashes every input that is not hashed yet. */
  async function hashAll() {
    for (const input of handle.unhashed()) {
      const blob = sources[input];
      await feed(blob, 0, (bytes) => handle.hash(input, bytes), pacer("hash", 0, blob.size, null, true));
      handle.finish_hash(input);
    }
  }

  /** @type {Record<string, (payload: any) => any>} */
  const answers = {
    open,
    openText: async ({ name, text, chunk }) => {
      const blob = new Blob([text]);
      await read(name, blob, chunk, 0, blob.size);
      return view();
    },
    openBench,
    settings,
    arrange,
    columns: ({ input }) => handle.column_ranges(input),
    remove: ({ input }) => {
      takeOut(input);
      return view();
    },
    view,
    extent: settled((payload) => handle.extent(payload)),
    raster: settled((payload) => handle.raster(payload)),
    hover: settled((payload) => handle.hover(payload)),
    walk: settled((payload) => handle.walk(payload)),
    rows: settled(({ run }) => handle.row_counts(run)),
    pick: settled((payload) => handle.pick(payload)),
    strip: settled((payload) => handle.strip(payload)),
    bins: settled((payload) => handle.bins(payload)),
    trust: async (payload) => {
      await settle();
      return handle.trust(payload);
    },
    preview,
    first: ({ input }) => handle.first(input),
    worst: ({ input }) => handle.worst(input),
    counts: () => handle.counts(),
    // @ts-ignore declared by the glue
    record: ({ text }) => wasm_bindgen.check_record(text),
    // @ts-ignore declared by the glue
    pairs: ({ text }) => wasm_bindgen.pairs(text),
    export: async (payload) => {
      await settle();
      await hashAll();
      return handle.export_text(payload);
    },
    // For tests: what happens after a panic must be seen to work.
    panic: () => handle.panic(),
  };

  /** Kinds that only look, and may be answered while a log is still being read. */
  const QUICK = new Set(["hover", "walk", "raster", "strip", "rows", "pick", "bins"]);

  function settled(answer) {
    return async (payload) => {
      await settle(true);
      return answer(payload);
    };
  }

  async function answerQuick() {
    if (!handle.rows_ready()) return;
    for (let at = 0; at < waiting.length; ) {
      if (QUICK.has(waiting[at].kind)) {
        const [request] = waiting.splice(at, 1);
        const outer = running;
        await answer(request);
        running = outer;
      } else {
        at += 1;
      }
    }
  }

  function transferable(reply) {
    return reply && reply.pixels instanceof ArrayBuffer ? [reply.pixels] : [];
  }

  /** Answers one request. A trap ends the worker: its memory is no longer to be trusted. */
  async function answer(request) {
    running = request;
    try {
      const known = Object.hasOwn(answers, request.kind);
      if (!known) throw failure("unknown_request", `There is no request called ${request.kind}.`);
      checkStillWanted();
      if (Number.isInteger(request.payload?.key)) nextKey = request.payload.key;
      const reply = await answers[request.kind](request.payload || {});
      self.postMessage({ id: request.id, reply }, { transfer: transferable(reply) });
    } catch (error) {
      if (isTrap(error)) {
        dead = true;
        // @ts-ignore set by the panic hook
        const words = self.wattsievePanic || String(error.message);
        self.postMessage({ panic: { id: request.id, message: words } });
        self.close();
        return;
      }
      self.postMessage({ id: request.id, error: asFailure(error) });
    } finally {
      running = null;
    }
  }

  let busy = false;
  async function work() {
    if (busy || !handle) return;
    busy = true;
    while (waiting.length > 0 && !dead) {
      cancelled = false;
      await answer(waiting.shift());
    }
    busy = false;
  }

  self.onmessage = ({ data }) => {
    if (data.start) {
      // @ts-ignore declared by the glue
      wasm_bindgen.initSync({ module: data.start });
      // @ts-ignore
      handle = new wasm_bindgen.Handle();
      self.postMessage({ ready: true });
    } else if (data.cancel) {
      cancelled = busy;
    } else {
      waiting.push(data);
    }
    arrived();
    work();
  };
})();
