// @ts-check
// Start-up and wiring only.

import { drawWaiting, h, inTextField, renderInto } from "./dom.js";
import { notify, redo, set, startState, state, undo, watch } from "./state.js";
import { start } from "./link.js";
import { redrawStrip } from "./figure/map.js";
import { mountOpening, openCarried, showCarried } from "./panel/open.js";
import { mountTop } from "./panel/top.js";
import { isOpen, mountLeft } from "./panel/chain.js";
import { mountMiddle } from "./panel/middle.js";
import { mountRight } from "./panel/right.js";
import { installTestSurface } from "./surface.js";

function build() {
  const app = /** @type {HTMLElement} */ (document.getElementById("app"));
  const bench = h("div", { class: "bench empty" });
  renderInto(app, bench);
  mountOpening(app);
  const updates = [mountTop(bench), mountLeft(bench), mountMiddle(bench), mountRight(bench)];
  const update = () => {
    bench.className = state.phase === "empty" ? "bench empty" : "bench";
    bench.classList.toggle("early", state.early);
    bench.classList.toggle("reading", state.phase === "bench" && isOpen("log"));
    for (const one of updates) one();
  };
  watch(update);
  update();
  printInLight(update);
}

/** Paper is white: drawings take the light colours while the page is printed. @param {() => void} update */
function printInLight(update) {
  const root = document.documentElement;
  let before = "";
  addEventListener("beforeprint", () => {
    before = root.dataset.theme ?? "";
    root.dataset.theme = "light";
    update();
    drawWaiting();
    redrawStrip();
  });
  addEventListener("afterprint", () => {
    root.dataset.theme = before;
    update();
    redrawStrip();
  });
}

/** @param {KeyboardEvent} event */
function shortcuts(event) {
  if (!(event.ctrlKey || event.metaKey) || event.altKey || inTextField(event.target)) return;
  const key = event.key.toLowerCase();
  if (key === "z" && !event.shiftKey) undo();
  else if ((key === "z" && event.shiftKey) || key === "y") redo();
  else return;
  event.preventDefault();
}

async function begin() {
  startState();
  showCarried();
  build();
  addEventListener("keydown", shortcuts);
  installTestSurface();
  try {
    await start();
    set({ core: "ready" });
  } catch (error) {
    set({ core: "broken", busy: null });
    notify("", "The part of this page that computes could not be started.", `A current browser with WebAssembly and its vector instructions is needed. It said: ${/** @type {any} */ (error)?.message ?? error}`);
    return;
  }
  openCarried();
}

begin();
