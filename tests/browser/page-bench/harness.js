// Runs on the page: starts the workers and asks them, one after the other.
"use strict";
const peerSources = arguments[0];
const words = arguments[1];
const block = (id) => document.getElementById(id).textContent;
const input = document.createElement("input");
input.type = "file";
input.id = "bench-file";
document.body.append(input);

function ask(worker, message, wanted, transfer) {
  return new Promise((done, fail) => {
    worker.onerror = (event) => fail(new Error(event.message));
    worker.onmessage = ({ data }) => {
      if (data.panic) fail(new Error(data.panic.message));
      if (data.error) fail(new Error(data.error.message));
      if (wanted(data)) done(data);
    };
    worker.postMessage(message, transfer || []);
  });
}

globalThis.bench = {
  ask,
  async start() {
    const packed = Uint8Array.from(atob(block("code-wasm").trim()), (c) => c.charCodeAt(0));
    const stream = new Blob([packed]).stream().pipeThrough(new DecompressionStream("deflate-raw"));
    this.module = await WebAssembly.compile(await new Response(stream).arrayBuffer());
    const code = [block("code-glue"), "\n", words.probe, "\n", block("code-worker")];
    this.code = URL.createObjectURL(new Blob(code, { type: "text/javascript" }));
    this.worker = await this.fresh();
    if (peerSources.length > 0) {
      const all = new Blob([...peerSources.map((one) => one + "\n"), words.peers], { type: "text/javascript" });
      this.peers = new Worker(URL.createObjectURL(all));
    }
    this.id = 0;
  },
  async fresh() {
    const worker = new Worker(this.code);
    await ask(worker, { start: this.module }, (data) => data.ready);
    return worker;
  },
  async load() {
    this.file = input.files[0];
    const text = await this.file.text();
    if (this.peers) await ask(this.peers, { run: "keep", kept: text }, () => true);
    await ask(this.worker, { bench: "keepText", text }, (data) => data.bench);
    const kept = await this.file.arrayBuffer();
    await ask(this.worker, { bench: "keep", kept }, (data) => data.bench, [kept]);
    return this.file.size;
  },
  async probe(message) {
    return (await ask(this.worker, message, (data) => data.bench)).reply;
  },
  async peer(message) {
    return ask(this.peers, message, () => true);
  },
  /** The page's own request for a dropped file; times by the probe, until the last row stands in its columns. */
  async drop(worker) {
    const asked = performance.now();
    const id = ++this.id;
    const kind = "open";
    await ask(worker, { id, kind, payload: { files: [this.file] } }, (data) => data.id === id);
    const view = performance.now() - asked;
    const times = (await ask(worker, { bench: "times" }, (data) => data.bench)).reply;
    const gone = ++this.id;
    await ask(worker, { id: gone, kind: "remove", payload: { input: 0 } }, (data) => data.id === gone);
    return { ...times, view };
  },
};
