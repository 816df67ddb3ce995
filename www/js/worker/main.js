// @ts-check
// Worker end: owns the core, the data and the bench. Joined to one script that follows wasm-bindgen's glue in
// one Blob.
//
// In:  {start: WebAssembly.Module}, {id, kind, payload, key}, {cancel: true}
// Out: {ready: true}, {id, reply}, {id, error}, {progress}, {panic}
//
// One request runs at a time. Long ones are sequences of short steps; between two steps the
// message queue is let in, so that a cancel or a newer request of the same key is seen at once.

import { QUICK, asFailure, checkStillWanted, desk, failure, isTrap } from "./desk.js";
import { hashAll, preview, read, takeOut } from "./logs.js";
import { arrange, open, openBench, settings } from "./opening.js";
import { settle, view } from "./settle.js";

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
  columns: ({ input }) => desk.handle.column_ranges(input),
  remove: ({ input }) => {
    takeOut(input);
    return view();
  },
  view,
  extent: settled((payload) => desk.handle.extent(payload)),
  raster: settled((payload) => desk.handle.raster(payload)),
  hover: settled((payload) => desk.handle.hover(payload)),
  walk: settled((payload) => desk.handle.walk(payload)),
  rows: settled(({ run }) => desk.handle.row_counts(run)),
  pick: settled((payload) => desk.handle.pick(payload)),
  strip: settled((payload) => desk.handle.strip(payload)),
  bins: settled((payload) => desk.handle.bins(payload)),
  trust: async (payload) => {
    await settle();
    return desk.handle.trust(payload);
  },
  preview,
  first: ({ input }) => desk.handle.first(input),
  worst: ({ input }) => desk.handle.worst(input),
  counts: () => desk.handle.counts(),
  // @ts-ignore declared by the glue
  record: ({ text }) => wasm_bindgen.check_record(text),
  // @ts-ignore declared by the glue
  pairs: ({ text }) => wasm_bindgen.pairs(text),
  export: async (payload) => {
    await settle();
    await hashAll();
    return desk.handle.export_text(payload);
  },
  // For tests: what happens after a panic must be seen to work.
  panic: () => desk.handle.panic(),
};

function settled(answer) {
  return async (payload) => {
    await settle(true);
    return answer(payload);
  };
}

desk.answerQuick = async () => {
  if (!desk.handle.rows_ready()) return;
  for (let at = 0; at < desk.waiting.length; ) {
    if (QUICK.has(desk.waiting[at].kind)) {
      const [request] = desk.waiting.splice(at, 1);
      const outer = desk.running;
      await answer(request);
      desk.running = outer;
    } else {
      at += 1;
    }
  }
};

function transferable(reply) {
  return reply && reply.pixels instanceof ArrayBuffer ? [reply.pixels] : [];
}

/** Answers one request. A trap ends the worker: its memory is no longer to be trusted. */
async function answer(request) {
  desk.running = request;
  try {
    const known = Object.hasOwn(answers, request.kind);
    if (!known) throw failure("unknown_request", `There is no request called ${request.kind}.`);
    checkStillWanted();
    if (Number.isInteger(request.payload?.key)) desk.nextKey = request.payload.key;
    const reply = await answers[request.kind](request.payload || {});
    self.postMessage({ id: request.id, reply }, { transfer: transferable(reply) });
  } catch (error) {
    if (isTrap(error)) {
      desk.dead = true;
      // @ts-ignore set by the panic hook
      const words = self.wattsievePanic || String(error.message);
      self.postMessage({ panic: { id: request.id, message: words } });
      self.close();
      return;
    }
    self.postMessage({ id: request.id, error: asFailure(error) });
  } finally {
    desk.running = null;
  }
}

let busy = false;
async function work() {
  if (busy || !desk.handle) return;
  busy = true;
  while (desk.waiting.length > 0 && !desk.dead) {
    desk.cancelled = false;
    await answer(desk.waiting.shift());
  }
  busy = false;
}

self.onmessage = ({ data }) => {
  if (data.start) {
    // @ts-ignore declared by the glue
    wasm_bindgen.initSync({ module: data.start });
    // @ts-ignore
    desk.handle = new wasm_bindgen.Handle();
    self.postMessage({ ready: true });
  } else if (data.cancel) {
    desk.cancelled = busy;
  } else {
    desk.waiting.push(data);
  }
  desk.arrived();
  work();
};
