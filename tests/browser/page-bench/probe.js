// Stands between wasm-bindgen's glue and the page's worker script, in the same worker: notes when the
// core takes bytes, and answers requests that carry `bench`. The worker script sees none of those.
"use strict";
(() => {
  const glue = wasm_bindgen;
  const { initSync } = glue;
  let memory = null;
  glue.initSync = (given) => {
    const made = initSync(given);
    memory = made.memory;
    return made;
  };
  const times = {};
  const inner = glue.Handle.prototype;
  const { begin, push, finish, advance } = inner;
  const size = () => memory.buffer.byteLength;
  inner.begin = function (...given) {
    times.sizeBefore = size();
    times.begun = performance.now();
    return begin.apply(this, given);
  };
  inner.push = function (...given) {
    push.apply(this, given);
    times.pushed = performance.now();
  };
  inner.finish = function (...given) {
    times.sizePushed = size();
    finish.apply(this, given);
    times.finished = performance.now();
    times.sizeFinished = size();
  };

  // Milliseconds by stage, and by its parts.
  let stages = {};
  inner.advance = function (...given) {
    const start = performance.now();
    const step = advance.apply(this, given);
    const took = performance.now() - start;
    stages[step.stage] = (stages[step.stage] ?? 0) + took;
    if (step.part) stages[step.part] = (stages[step.part] ?? 0) + took;
    return step;
  };

  let bytes = null;
  const answers = {
    keep: ({ kept }) => {
      bytes = new Uint8Array(kept);
    },
    // The product's own reader over bytes that are in memory already.
    memory: ({ piece }) => {
      const handle = new glue.Handle();
      const input = handle.begin("bench.csv", bytes.length);
      for (let at = 0; at < bytes.length; at += piece) handle.push(input, bytes.subarray(at, at + piece));
      handle.finish(input);
      handle.free();
      return { ...times };
    },
    // The same from a text of the script's own, as when one is pasted.
    text: ({ text, piece }) => {
      const encoder = new TextEncoder();
      const start = performance.now();
      const handle = new glue.Handle();
      const input = handle.begin("bench.csv", text.length);
      for (let at = 0; at < text.length; at += piece) {
        handle.push(input, encoder.encode(text.slice(at, at + piece)));
      }
      handle.finish(input);
      handle.free();
      return { ...times, begun: start };
    },
    alone: async ({ file }) => {
      const start = performance.now();
      let sum = 0;
      const reader = file.stream().getReader();
      for (;;) {
        const { done, value } = await reader.read();
        if (done) break;
        sum += value.length;
      }
      return { bytes: sum, took: performance.now() - start };
    },
    size: size,
    times: () => ({ ...times }),
    forget: () => {
      stages = {};
    },
    stages: () => ({ ...stages }),
  };
  let text = "";
  self.addEventListener("message", async (event) => {
    const { data } = event;
    if (!data.bench) return;
    event.stopImmediatePropagation();
    if (data.bench === "keepText") text = data.text;
    const answer = answers[data.bench];
    const reply = answer ? await answer({ text, ...data }) : null;
    self.postMessage({ bench: true, reply });
  });
})();
