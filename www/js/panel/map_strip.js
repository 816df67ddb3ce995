// @ts-check
// The strip under the map: choosing a stretch of time by drag and by numbers.

import { h } from "../dom.js";
import { fixed, span } from "../format.js";
import { isTimed } from "../run.js";
import { currentRun, set, state } from "../state.js";
import { drawn, layers, stripStill } from "../figure/map.js";
import { pairOf, stripFrame } from "../figure/strip.js";
import { numberField } from "./controls.js";
import { chooseTime, dropChoice } from "./map_choose.js";
import { planeCaption, planeLine } from "./plane.js";
import { drawingAsFile, svgButton } from "./vector.js";

/** @param {PointerEvent} event */
function stripTime(event) {
  const box = layers.strip.getBoundingClientRect();
  const frame = stripFrame(box.width);
  const [from, to] = pairOf(drawn.strip.time);
  return from + (to - from) * Math.min(1, Math.max(0, (event.clientX - box.left - frame.left) / frame.width));
}

/** @type {number|null} */
let stripFrom = null;

/** Listens to the pointer over the strip. @param {HTMLElement} stripFront */
export function watchStrip(stripFront) {
  stripFront.addEventListener("pointerdown", (event) => {
    if (!drawn.strip) return;
    stripFrom = stripTime(event);
    stripFront.setPointerCapture(event.pointerId);
  });
  stripFront.addEventListener("pointermove", (event) => {
    if (stripFrom === null || !drawn.strip) return;
    const to = stripTime(event);
    set({ selection: stripFrom < to ? [stripFrom, to] : [to, stripFrom] });
  });
  stripFront.addEventListener("pointerup", (event) => {
    if (stripFrom !== null && drawn.strip && Math.abs(stripTime(event) - stripFrom) < (pairOf(drawn.strip.time)[1] - pairOf(drawn.strip.time)[0]) / 400) {
      set({ selection: null });
      dropChoice();
    } else if (stripFrom !== null && state.selection) chooseTime(state.selection);
    stripFrom = null;
  });
}

/** The strip as a file. */
function saveStrip() {
  const run = currentRun();
  const against = isTimed() ? "time" : "row";
  return svgButton({
    what: "strip", title: `Input voltage, output current and efficiency against ${against}`,
    lines: [`${run?.name ?? ""}: V in / V, I out / A, η / %, ${planeLine()}: ${planeCaption()}.`, `Each column spans the lowest to the highest kept value in it; copper: rows out.`],
    make: (words) => {
      const drawing = stripStill();
      return drawing && drawingAsFile(drawing, words);
    },
  });
}

/** The stretch in numbers, what the keys do, and the strip as a file. */
export function selectionFields() {
  const [from, to] = drawn.strip ? pairOf(drawn.strip.time) : [0, 0];
  const at = state.selection;
  const edit = (/** @type {0|1} */ end) => (/** @type {number|null} */ value) => {
    if (value === null) return;
    const next = /** @type {[number, number]} */ ([at?.[0] ?? from, at?.[1] ?? to]);
    next[end] = value;
    if (next[0] >= next[1]) return;
    set({ selection: next });
    chooseTime(next);
  };
  return [
    h("span", null, "Stretch from"), numberField({ name: "from", label: isTimed() ? "Start of the stretch in seconds" : "First row of the stretch", value: at ? Number(at[0].toFixed(2)) : null, place: fixed(from, 0), set: edit(0) }),
    h("span", null, "to"), numberField({ name: "to", label: isTimed() ? "End of the stretch in seconds" : "Last row of the stretch", value: at ? Number(at[1].toFixed(2)) : null, place: fixed(to, 0), set: edit(1) }), h("span", null, isTimed() ? "s" : "rows"),
    at ? h("button", { class: "btn", onclick: () => { set({ selection: null }); dropChoice(); } }, "Whole run") : h("span", { class: "quiet" }, "or drag in the strip; rows outside it fade"),
    at && isTimed() ? h("span", null, span(at[1] - at[0])) : null,
    saveStrip(),
    h("span", { class: "keys quiet" }, "In the figure: arrows walk rows, Enter twice chooses what lies between, Delete takes out, K keeps, U undoes by hand; + and − zoom, 0 fits, Escape clears."),
  ];
}
