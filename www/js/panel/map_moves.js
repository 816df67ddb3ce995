// @ts-check
// Pointer and keys over the map: reading, moving, zooming, drawing a box.

import { oncePerFrame } from "../dom.js";
import { count } from "../format.js";
import { choose, handKeys } from "../hand.js";
import { ask } from "../link.js";
import { changed, currentRun, overtaken, report, set, state } from "../state.js";
import { drawn, layers } from "../figure/map.js";
import { moved, zoomed } from "../figure/view.js";
import { anchorOrEnd, boxBetween, chooseBox, drawnBox, dropChoice } from "./map_choose.js";

/** @param {PointerEvent|WheelEvent} event */
function spot(event) {
  const box = layers.raster.getBoundingClientRect();
  return { x: event.clientX - box.left, y: event.clientY - box.top, fx: (event.clientX - box.left) / box.width, fy: 1 - (event.clientY - box.top) / box.height };
}

let lastSpot = { x: 0, y: 0 };
const askHover = oncePerFrame(async () => {
  if (state.early) return;
  const ratio = window.devicePixelRatio || 1;
  try {
    const reading = await ask("hover", { run: state.run, x: lastSpot.x * ratio, y: lastSpot.y * ratio, radius: 14 * ratio });
    if (reading) set({ reading });
  } catch (error) {
    if (!overtaken(error)) report(error, "points");
  }
});

/** @type {{x: number, y: number, at: any, axes: any, moved: boolean, chooses: boolean}|null} */
let grip = null;

/** @param {PointerEvent} event */
function pointerMove(event) {
  const at = spot(event);
  if (grip) {
    const [dx, dy] = [at.x - grip.x, at.y - grip.y];
    if (!grip.moved && Math.hypot(dx, dy) < 5) return;
    grip.moved = true;
    if (grip.chooses) {
      drawnBox.box = boxBetween(grip, at);
      drawnBox.number = -1;
      changed();
      return;
    }
    const box = drawn.frame;
    set({ frame: { x: moved(grip.axes.x, -dx / box.width), y: moved(grip.axes.y, dy / box.height) } });
    return;
  }
  if (at.fx < 0 || at.fx > 1 || at.fy < 0 || at.fy > 1) return;
  lastSpot = at;
  state.readingFrom = event.pointerType === "touch" ? "touch" : "pointer";
  askHover();
}

/** @param {number} factor @param {number} [fx] @param {number} [fy] */
export function zoom(factor, fx = 0.5, fy = 0.5) {
  if (!drawn.x) return;
  set({ frame: { x: zoomed(drawn.x, factor, fx), y: zoomed(drawn.y, factor, fy) } });
}

/** @param {number} dx @param {number} dy */
export function pan(dx, dy) {
  if (!drawn.x) return;
  set({ frame: { x: moved(drawn.x, dx), y: moved(drawn.y, dy) } });
}

/** @param {number} row @param {number} by */
async function walk(row, by) {
  if (state.early) return;
  try {
    const reading = await ask("walk", { run: state.run, row, by });
    if (reading) set({ reading, readingFrom: "keys" });
  } catch (error) {
    if (!overtaken(error)) report(error, "points");
  }
}

/** @param {KeyboardEvent} event */
export function mapKeys(event) {
  if (handKeys(event) || event.ctrlKey || event.metaKey || event.altKey) return;
  const rows = drawn.extent?.rows ?? currentRun()?.rows.read ?? 1;
  const row = state.reading?.row ?? -1;
  const inStrip = /** @type {HTMLElement} */ (event.currentTarget).classList.contains("front");
  const step = event.shiftKey ? 100 : 1;
  /** @type {Record<string, () => void>} */
  const does = {
    ArrowRight: () => walk(row, step), ArrowLeft: () => walk(row < 0 ? rows : row, -step), ArrowUp: () => walk(row, 25 * step), ArrowDown: () => walk(row < 0 ? rows : row, -25 * step),
    PageUp: () => walk(row, Math.ceil(rows / 20)), PageDown: () => walk(row < 0 ? rows : row, -Math.ceil(rows / 20)),
    Home: () => walk(-1, 1), End: () => walk(rows, -1), Enter: () => anchorOrEnd(inStrip),
    Escape: () => { dropChoice(); set({ reading: null, finding: -1 }); },
    "+": () => zoom(0.8), "=": () => zoom(0.8), "-": () => zoom(1.25), 0: () => set({ frame: null }),
  };
  const act = does[event.key];
  if (!act) return;
  event.preventDefault();
  act();
}

/** @param {WheelEvent} event */
function wheel(event) {
  const front = event.currentTarget;
  if (document.activeElement !== front && !event.ctrlKey && !event.metaKey && !event.shiftKey) return;
  event.preventDefault();
  const at = spot(event);
  const turn = event.deltaY || event.deltaX;
  zoom(Math.exp(Math.max(-0.5, Math.min(0.5, turn * 0.0015))), Math.min(1, Math.max(0, at.fx)), Math.min(1, Math.max(0, at.fy)));
}

/** Listens to the pointer over the figure. @param {HTMLElement} front @param {HTMLElement} box the layers */
export function watchFigure(front, box) {
  front.addEventListener("pointermove", pointerMove);
  front.addEventListener("wheel", wheel, { passive: false });
  front.addEventListener("pointerdown", (event) => {
    front.focus({ preventScroll: true });
    if (event.button !== 0 || !drawn.x) return;
    const at = spot(event);
    if (event.pointerType === "touch" && !state.choosing) {
      lastSpot = at;
      state.readingFrom = "touch";
      askHover();
      return;
    }
    grip = { x: at.x, y: at.y, at: null, axes: { x: { ...drawn.x }, y: { ...drawn.y } }, moved: false, chooses: state.choosing || event.shiftKey };
    front.setPointerCapture(event.pointerId);
    box.classList.add("drag");
  });
  const release = () => {
    const done = grip;
    grip = null;
    box.classList.remove("drag");
    if (!done?.chooses) return;
    if (done.moved && drawnBox.box) chooseBox(drawnBox.box);
    else if (!done.moved && state.reading) choose({ rows: [state.reading.row, state.reading.row] }, `Row ${count(state.reading.row)}.`);
  };
  front.addEventListener("pointerup", release);
  front.addEventListener("pointercancel", release);
  front.addEventListener("dblclick", () => state.choosing || set({ frame: null }));
}
