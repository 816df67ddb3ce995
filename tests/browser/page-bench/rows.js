// Runs on the page: what counting and a moved slider cost. `bench` is there from harness.js.
"use strict";
globalThis.bench ??= {};
Object.assign(globalThis.bench, {
  async request(worker, kind, payload) {
    const id = ++this.id;
    return (await this.ask(worker, { id, kind, payload }, (data) => data.id === id)).reply;
  },
  /** Opens the file in a worker that is new; its rows stand in the end. */
  async openRows() {
    this.rowsWorker = await this.fresh();
    this.file = document.getElementById("bench-file").files[0];
    this.empty = await this.probeOf(this.rowsWorker, { bench: "size" });
    const view = await this.request(this.rowsWorker, "open", { files: [this.file] });
    this.settings = view.settings;
    return view.runs.length;
  },
  /** Bytes by which the core's memory has grown since it held no log; it never shrinks, so the most that was ever in use. */
  async grown() {
    return (await this.probeOf(this.rowsWorker, { bench: "size" })) - this.empty;
  },
  /** Milliseconds of counting rows into new cells (the four grids, the exact count, all), and of judging with another count of least rows. */
  async count(sieve) {
    const ask = async (changed) => {
      await this.probeOf(this.rowsWorker, { bench: "forget" });
      await this.request(this.rowsWorker, "settings", { settings: { ...this.settings, sieve: { ...this.settings.sieve, ...changed } } });
      return this.probeOf(this.rowsWorker, { bench: "stages" });
    };
    // Something else in between, so that every count is one of new cells.
    await ask(sieve.cells ? { ...sieve, cells: sieve.cells + 7 } : { ...sieve, widths: Object.fromEntries(Object.entries(sieve.widths).map(([name, width]) => [name, 1.2 * width])) });
    const counted = await ask(sieve);
    const judged = await ask({ ...sieve, least_rows: 5 });
    return { grids: counted.count ?? 0, exact: counted["exact count"] ?? 0, counted: counted.sieve ?? 0, judged: judged.verdicts ?? 0 };
  },
  async probeOf(worker, message) {
    return (await this.ask(worker, message, (data) => data.bench)).reply;
  },
  closeRows() {
    this.rowsWorker.terminate();
  },
  /** Moves the page's own slider; milliseconds from each move to new pixels, and the longest task meanwhile. */
  async slide(moves) {
    const drawn = () => new Promise((done) => setTimeout(done, 700));
    const card = [...document.querySelectorAll(".stage .head")].find((head) => /sieve/i.test(head.textContent));
    if (card?.getAttribute("aria-expanded") === "false") card.click();
    await drawn();
    const fold = document.getElementById("fold-sieve-fine");
    if (fold && !fold.open) fold.querySelector("summary").click();
    await drawn();
    const slider = [...document.querySelectorAll("label")].find((label) => /least rows/i.test(label.textContent) && document.getElementById(label.htmlFor)?.type === "range");
    if (!slider) throw new Error("the page shows no slider for the least rows");
    const id = slider.htmlFor;
    let painted = null;
    const proto = CanvasRenderingContext2D.prototype;
    const { putImageData } = proto;
    proto.putImageData = function (...given) {
      putImageData.apply(this, given);
      if (painted && this.canvas.width > 300) painted(performance.now());
    };
    const tasks = [];
    const watch = new PerformanceObserver((list) => tasks.push(...list.getEntries().map((entry) => entry.duration)));
    watch.observe({ entryTypes: ["longtask"] });
    const times = [];
    for (let at = 0; at < moves; at += 1) {
      const input = document.getElementById(id);
      const start = performance.now();
      const pixels = new Promise((done, fail) => {
        painted = done;
        setTimeout(() => fail(new Error("no new pixels within 20 s")), 20000);
      });
      input.value = String(2 + (at % 6));
      input.dispatchEvent(new Event("input", { bubbles: true }));
      times.push((await pixels) - start);
      painted = null;
      await new Promise((done) => setTimeout(done, 400));
    }
    proto.putImageData = putImageData;
    watch.disconnect();
    return { times, longest: Math.max(0, ...tasks) };
  },
});
