// @ts-check
// The user's own fixture as a schematic: one drawing for every way of wiring it and for every calibration
// run made with it. Which piece is lit comes from the results.

import { sv } from "../dom.js";
import { jumper, label, lamp, loose, meter, node, piece, pin, plug, source, stroke } from "./wires.js";

/**
 * How the fixture is wired.
 * @typedef {{
 *   grounds: "separate"|"shared"|"common_positive",
 *   inputSense: "far"|"near", outputSense: "far"|"near",
 *   inputShunt: {inside: boolean, low: boolean}, outputShunt: {inside: boolean, low: boolean},
 *   output: "nodes"|"one",
 * }} Wires
 *
 * What to draw besides.
 * @typedef {{
 *   kind?: string, lit?: (piece: string) => string, big?: boolean, load?: string, words: string,
 *   rIn?: string, rOut?: string, rShared?: string, foot?: string, crop?: "in"|"out",
 * }} Scene
 */

/** Plain names of the pieces between the sense nodes and the converter. @type {Record<string, string>} */
export const PIECE = { in_high: "in +", in_low: "in −", out_high: "out +", out_low: "out −", shared_ground: "ground lead" };

/** Runs in which a wire stands in the converter's place along both rails. */
const BRIDGED = ["all_off", "open_sweep", "straight_through", "node_tied"];

/** @param {Wires} wires @param {boolean} input @param {boolean} big @param {boolean} low @returns {string[]} what stands on one rail between source (or load) and converter, in order from the outside */
function columnsOf(wires, input, big) {
  const near = (input ? wires.inputSense : wires.outputSense) === "near";
  const shunt = input ? wires.inputShunt : wires.outputShunt;
  return [big ? "lead" : "", shunt.inside ? "" : "shunt", near ? "plug" : "", "node", near ? "" : "plug", "piece", shunt.inside ? "shunt" : ""].filter(Boolean);
}

/**
 * Draws the fixture.
 * @param {Wires} wires @param {Scene} scene @returns {SVGElement}
 */
export function drawFixture(wires, scene) {
  const big = scene.big ?? false;
  const kind = scene.kind ?? "run";
  const shared = wires.grounds === "shared";
  const lit = scene.lit ?? (() => "plain");
  const [width, left, boxLeft, boxRight] = big ? [760, 26, 312, 428] : [268, 12, 112, 156];
  const [top, boxTop] = big ? [64, 40] : [28, 14];
  const bottom = big ? (shared ? 206 : 160) : shared ? 124 : 98;
  const boxBottom = shared ? bottom - (big ? 62 : 44) : bottom + (big ? 24 : 14);
  const right = width - left - (big ? 6 : 2);
  const middle = (boxLeft + boxRight) / 2;
  const [pieceWide, pieceHigh] = big ? [46, 16] : [18, 11];
  const parts = [];

  const side = (/** @type {boolean} */ input) => {
    const columns = columnsOf(wires, input, big);
    const [from, to] = input ? [left + (big ? 14 : 8), boxLeft] : [right - (big ? 10 : 6), boxRight];
    const pitch = (to - from) / columns.length;
    const shunt = input ? wires.inputShunt : wires.outputShunt;
    const drawn = [];
    let nodeAt = 0;
    columns.forEach((column, i) => {
      const x = from + pitch * (i + 0.5);
      for (const low of [false, true]) {
        const y = low ? bottom : top;
        if (column === "lead") {
          const how = lit(input ? "source_side" : "load_side");
          drawn.push(piece(x, y, 34, 14, how === "unknown" || how === "plain" ? "outside" : how));
        }
        else if (column === "plug") drawn.push(plug(x, y, !input));
        else if (column === "shunt" && shunt.low === low) drawn.push(meter(x, y, "A", big ? 10 : 8));
        else if (column === "piece") {
          const name = `${input ? "in" : "out"}_${low ? "low" : "high"}`;
          drawn.push(piece(x, y, pieceWide, pieceHigh, lit(name)));
          if (big) drawn.push(label(x, y + (low ? 24 : -15), PIECE[name], "soft"));
        } else if (column === "node") {
          nodeAt = x;
          drawn.push(node(x, y, input ? (low ? "G" : "P") : low ? "N" : "Q", low ? (big ? 22 : 18) : -10));
        }
      }
    });
    if (big && columns.includes("shunt")) {
      const x = from + pitch * (columns.indexOf("shunt") + 0.5);
      drawn.push(label(x, shunt.low ? bottom + 28 : top - 20, input ? "I in" : "I out", "soft"));
    }
    const values = input ? scene.rIn : scene.rOut;
    if (big && values) {
      const x = (nodeAt + to) / 2;
      drawn.push(label(x, (top + bottom) / 2 - 6, input ? "R in" : "R out", "soft"), label(x, (top + bottom) / 2 + 13, values, "value"));
    }
    if (!input && wires.output === "one") {
      const mid = (top + bottom) / 2 + (big ? -34 : 0);
      drawn.push(stroke(nodeAt, top, nodeAt, bottom, "sensing"), meter(nodeAt, big ? bottom - 24 : mid, "V", big ? 10 : 8));
    }
    return drawn;
  };

  // Rails first, so that what stands on them covers them.
  const ends = { common: wires.grounds === "common_positive", left, right, top, bottom, boxLeft, boxRight, boxTop, boxBottom, middle, big };
  parts.push(stroke(left, top, boxLeft, top), stroke(boxRight, top, right, top));
  if (shared) parts.push(stroke(left, bottom, right, bottom));
  else parts.push(stroke(left, bottom, boxLeft, bottom), stroke(boxRight, bottom, right, bottom));
  parts.push(centre(kind, wires, ends, lit, scene));
  parts.push(side(true), side(false));
  parts.push(outer(kind, ends, scene));
  if (scene.foot) parts.push(label(width / 2, bottom + (big ? 54 : 30), scene.foot, "value"));
  const height = bottom + (big ? (scene.foot ? 66 : 40) : 26);
  const [from, wide] = scene.crop === "in" ? [0, boxRight + 4] : scene.crop === "out" ? [boxLeft - 4, width - boxLeft + 4] : [0, width];
  return sv("svg", { viewBox: `${from} 0 ${wide} ${height}`, class: big ? "wires big" : "wires", role: "img", "aria-label": scene.words }, parts);
}

/** @param {string} kind @param {Wires} wires @param {any} e @param {(piece: string) => string} lit @param {Scene} scene what stands in the middle */
function centre(kind, wires, e, lit, scene) {
  const { top, bottom, boxLeft, boxRight, boxTop, boxBottom, middle, big } = e;
  const shared = wires.grounds === "shared";
  const converter = kind === "run" || kind === "table" || kind === "meter";
  const parts = [];
  const box = { x: boxLeft, y: boxTop, width: boxRight - boxLeft, height: boxBottom - boxTop, rx: 2 };
  if (converter) {
    parts.push(sv("rect", { ...box, class: "box" }));
    if (wires.grounds === "common_positive") parts.push(stroke(boxLeft, top, boxRight, top, "plus"));
    if (big) parts.push(label(middle, (boxTop + boxBottom) / 2 + 4, "converter", "serif"), label(middle, (boxTop + boxBottom) / 2 + 22, wires.grounds === "common_positive" ? "plus runs through" : "or a wire", "says"));
    else {
      const [y, x] = [(boxTop + boxBottom) / 2 + (wires.grounds === "common_positive" ? 8 : 0), middle];
      parts.push(sv("polyline", { points: `${x - 15},${y - 9} ${x - 8},${y - 9} ${x - 8},${y + 9} ${x + 6},${y + 9} ${x + 6},${y - 9} ${x + 15},${y - 9}` }));
    }
    parts.push(pin(boxLeft, top), pin(boxRight, top));
    if (!shared) parts.push(pin(boxLeft, bottom), pin(boxRight, bottom));
    else parts.push(pin(middle, boxBottom));
  } else {
    parts.push(sv("rect", { ...box, class: "empty" }));
    if (BRIDGED.includes(kind)) {
      parts.push(jumper(boxLeft, top, boxRight, top));
      if (!shared) parts.push(jumper(boxLeft, bottom, boxRight, bottom));
    } else if (kind === "cross_bridge") {
      parts.push(shared ? jumper(boxLeft, top, middle, boxBottom) : jumper(boxLeft, top, boxRight, bottom));
    } else {
      const x = kind === "input_shorted" ? boxLeft : boxRight;
      parts.push(shared ? jumper(x, top, middle, boxBottom) : jumper(x, top, x, bottom));
    }
    if (big) parts.push(label(middle, (boxTop + boxBottom) / 2 + 4, "wire", "hot"));
  }
  if (shared) {
    const [y1, y2] = [boxBottom, bottom];
    const mid = (y1 + y2) / 2;
    parts.push(stroke(middle, y1, middle, y2), piece(middle, mid, big ? 16 : 11, big ? 34 : 18, lit("shared_ground")), sv("circle", { cx: middle, cy: y2, r: 3, class: "pin" }));
    if (big) parts.push(label(middle + 16, mid + 4, scene.rShared ? `ground lead ${scene.rShared}` : "ground lead", scene.rShared ? "value" : "soft", "start"));
    if (BRIDGED.includes(kind)) parts.push(loose(middle, y1));
  }
  return parts;
}

/** @param {string} kind @param {any} e @param {Scene} scene source and load */
function outer(kind, e, scene) {
  const { common, left, right, top, bottom, big } = e;
  const mid = (top + bottom) / 2;
  const parts = [];
  const plates = big ? 12 : 9;
  if (kind === "output_shorted") parts.push(source(right, top, bottom, plates), loose(left, top), loose(left, bottom));
  else if (kind === "cross_bridge") parts.push(source(left, top, bottom, plates), loose(right, top), loose(right, bottom));
  else if (kind === "all_off") parts.push(loose(left, top), loose(left, bottom), loose(right, top), loose(right, bottom));
  else {
    parts.push(source(left, top, bottom, plates));
    if (kind === "open_sweep" || kind === "input_shorted") parts.push(loose(right, top), loose(right, bottom));
    else if (kind === "node_tied") parts.push(loose(right, top), loose(right, bottom));
    else if (kind === "straight_through") {
      parts.push(stroke(right, top, right, mid - 19), stroke(right, mid + 19, right, bottom), sv("rect", { x: right - (big ? 8 : 6), y: mid - 19, width: big ? 16 : 12, height: 38, class: "box" }));
    } else if (common) {
      const at = mid - 26;
      parts.push(stroke(right, top, right, at), stroke(right, at + 52, right, bottom), lamp(right, at), lamp(right, at + 26));
    } else parts.push(stroke(right, top, right, mid - 19), stroke(right, mid + 19, right, bottom), sv("rect", { x: right - (big ? 8 : 6), y: mid - 19, width: big ? 16 : 12, height: 38, class: "box" }));
  }
  if (big) parts.push(label(left, top - 20, kind === "output_shorted" ? "open" : "source", "soft"), label(right - 4, top - 20, scene.load ?? "load", "soft"));
  return parts;
}
