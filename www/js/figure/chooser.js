// @ts-check
// Choosing a box in a figure, by drag or by keys: an empty layer over the canvas.

import { h, sv } from "../dom.js";
import { handKeys, letGo } from "../hand.js";
import { changed, state } from "../state.js";
import { along, valueAt } from "./view.js";

/**
 * @typedef {{frame: {left: number, top: number, width: number, height: number}, x: import("./view.js").Axis, y: import("./view.js").Axis|null}} Plane
 * @typedef {{fx: number, fy: number}} Spot shares along the frame, from its lower left corner
 * @typedef {{cursor: Spot|null, from: Spot|null, drag: boolean, shown: {x: [number, number], y: [number, number]|null}|null, number: number}} Grip
 */

/** @type {Map<string, Grip>} */
const grips = new Map();

/** @param {string} name @returns {Grip} */
function gripOf(name) {
  let grip = grips.get(name);
  if (!grip) {
    grip = { cursor: null, from: null, drag: false, shown: null, number: -1 };
    grips.set(name, grip);
  }
  return grip;
}

/** @param {Spot} a @param {Spot} b @param {Plane} plane */
function boxOf(a, b, plane) {
  const side = (/** @type {import("./view.js").Axis} */ axis, /** @type {number} */ p, /** @type {number} */ q) => /** @type {[number, number]} */ ([valueAt(axis, Math.min(p, q)), valueAt(axis, Math.max(p, q))]);
  return { x: side(plane.x, a.fx, b.fx), y: plane.y ? side(plane.y, a.fy, b.fy) : null };
}

const inFrame = (/** @type {number} */ share) => Math.min(1, Math.max(0, share));

/**
 * The layer; give it as child of the element that holds the canvas.
 * @param {{name: string, label: string, plane: () => Plane|null, choose: (box: {x: [number, number], y: [number, number]|null}) => Promise<any>, at?: (x: number, y: number|null) => void}} o
 */
export function chooser(o) {
  const grip = gripOf(o.name);
  const plane = o.plane();
  const spot = (/** @type {PointerEvent} */ event) => {
    const now = o.plane();
    const box = /** @type {HTMLElement} */ (event.currentTarget).getBoundingClientRect();
    if (!now) return null;
    return { fx: inFrame((event.clientX - box.left - now.frame.left) / now.frame.width), fy: inFrame(1 - (event.clientY - box.top - now.frame.top) / now.frame.height) };
  };
  const say = (/** @type {Spot} */ at) => {
    const now = o.plane();
    if (now && o.at) o.at(valueAt(now.x, at.fx), now.y ? valueAt(now.y, at.fy) : null);
  };
  const finish = async () => {
    const now = o.plane();
    const [from, to] = [grip.from, grip.cursor];
    grip.from = null;
    grip.drag = false;
    if (!now || !from || !to) return;
    grip.shown = boxOf(from, to, now);
    const made = await o.choose(grip.shown);
    grip.number = made?.number ?? -1;
    changed();
  };
  const keys = (/** @type {KeyboardEvent} */ event) => {
    if (handKeys(event) || event.ctrlKey || event.metaKey || event.altKey) return;
    const by = event.shiftKey ? 0.1 : 0.0125;
    const at = grip.cursor ?? { fx: 0.5, fy: 0.5 };
    /** @type {Record<string, () => void>} */
    const does = {
      ArrowLeft: () => { grip.cursor = { ...at, fx: inFrame(at.fx - by) }; },
      ArrowRight: () => { grip.cursor = { ...at, fx: inFrame(at.fx + by) }; },
      ArrowDown: () => { grip.cursor = { ...at, fy: inFrame(at.fy - by) }; },
      ArrowUp: () => { grip.cursor = { ...at, fy: inFrame(at.fy + by) }; },
      Home: () => { grip.cursor = { ...at, fx: 0 }; },
      End: () => { grip.cursor = { ...at, fx: 1 }; },
      Enter: () => {
        if (grip.from) finish();
        else Object.assign(grip, { from: at, cursor: at });
      },
      Escape: () => {
        Object.assign(grip, { from: null, shown: null, cursor: null });
        letGo();
      },
    };
    const act = does[event.key];
    if (!act) return;
    event.preventDefault();
    act();
    if (grip.cursor) say(grip.cursor);
    changed();
  };
  const live = grip.from && grip.cursor && plane ? boxOf(grip.from, grip.cursor, plane) : null;
  const box = live ?? (state.picked && state.picked.number === grip.number ? grip.shown : null);
  return [
    h("div", {
      class: "chooser", key: `chooser ${o.name}`, tabindex: "0", role: "application", "aria-roledescription": "figure",
      "aria-label": `${o.label} Arrow keys move a cursor, Shift moves it faster; Enter begins a box and ends it. Delete takes the chosen rows out, K keeps them, U undoes what was done by hand, Escape lets go.`,
      onkeydown: keys,
      onpointerdown: (/** @type {PointerEvent} */ event) => {
        const at = spot(event);
        if (event.button !== 0 || !at) return;
        /** @type {HTMLElement} */ (event.currentTarget).setPointerCapture(event.pointerId);
        Object.assign(grip, { from: at, cursor: at, drag: true });
      },
      onpointermove: (/** @type {PointerEvent} */ event) => {
        const at = spot(event);
        if (!at) return;
        say(at);
        if (!grip.drag) return;
        grip.cursor = at;
        changed();
      },
      onpointerup: () => {
        if (!grip.drag || !grip.from || !grip.cursor) return;
        const still = Math.abs(grip.from.fx - grip.cursor.fx) < 0.004 && Math.abs(grip.from.fy - grip.cursor.fy) < 0.004;
        if (!still) {
          finish();
          return;
        }
        Object.assign(grip, { from: null, drag: false, shown: null });
        letGo();
        changed();
      },
      onpointercancel: () => Object.assign(grip, { from: null, drag: false }),
    }),
    plane ? sv("svg", { class: "chosen", key: `chosen ${o.name}`, "aria-hidden": "true" }, boxRect(plane, box), cursorLines(plane, grip.drag ? null : grip.cursor)) : null,
  ];
}

/** A box over a figure. @param {Plane} plane @param {{x: [number, number], y: [number, number]|null}|null} box */
export function boxRect(plane, box) {
  if (!box) return null;
  const { left, top, width, height } = plane.frame;
  const [x0, x1] = box.x.map((value) => inFrame(along(plane.x, value)));
  const [y0, y1] = plane.y && box.y ? box.y.map((value) => inFrame(along(/** @type {any} */ (plane.y), value))) : [0, 1];
  return sv("rect", { x: left + x0 * width, y: top + (1 - y1) * height, width: Math.max(1, (x1 - x0) * width), height: Math.max(1, (y1 - y0) * height) });
}

/** @param {Plane} plane @param {Spot|null} at */
function cursorLines(plane, at) {
  if (!at) return null;
  const { left, top, width, height } = plane.frame;
  const [x, y] = [left + at.fx * width, top + (1 - at.fy) * height];
  return [sv("line", { x1: x, x2: x, y1: top, y2: top + height }), plane.y ? sv("line", { x1: left, x2: left + width, y1: y, y2: y }) : null];
}
