// @ts-check
// Line drawings of the wirings, made of the same few parts. Units are those of the viewBox.

import { sv } from "../dom.js";
import { jumper, label, lamp, meter, node, source, stroke } from "./wires.js";

/** A wire across the place of the converter. @param {number} x1 @param {number} x2 @param {number} y @param {number} below */
function bridge(x1, x2, y, below) {
  return [jumper(x1, y, x2, y), label((x1 + x2) / 2, y + below, "wire", "hot")];
}

/**
 * One of the wirings to record.
 * @param {string} kind role of the run @param {string} [resistor] words at the load resistor
 * @returns {SVGElement}
 */
export function wiringPicture(kind, resistor = "resistor") {
  const parts = [];
  const [top, bottom] = [28, 98];
  const title = PICTURE_WORDS[kind] ?? kind;
  parts.push(source(28, top, bottom), stroke(28, top, 330, top), stroke(28, bottom, 330, bottom));
  if (kind === "run" || kind === "table") {
    parts.push(sv("rect", { x: 134, y: 14, width: 66, height: 98, rx: 2, class: "box" }), label(167, 38, "converter", "soft"),
      sv("polyline", { points: "147,50 158,50 158,76 178,76 178,50 189,50" }));
    parts.push(stroke(330, top, 330, 40), stroke(330, 92, 330, bottom), lamp(330, 40), lamp(330, 66), label(316, 66, "lamp", undefined, "end"));
  } else if (kind === "input_shorted" || kind === "output_shorted") {
    const x = kind === "input_shorted" ? 134 : 200;
    parts.push(sv("rect", { x: 135, y: 16, width: 64, height: 94, class: "unknown" }), stroke(x, top, x, bottom, "wire"), label(x + (x < 160 ? 24 : -24), 67, "wire", "hot"), label(300, 67, kind === "input_shorted" ? "left open" : "source here", "says"));
  } else if (kind === "cross_bridge") {
    parts.push(sv("rect", { x: 135, y: 16, width: 64, height: 94, class: "unknown" }), stroke(134, top, 200, bottom, "wire"), label(300, 67, "source + to load −", "says"));
  } else {
    parts.push(bridge(134, 200, top, -9), bridge(134, 200, bottom, 18));
    if (kind === "straight_through") {
      parts.push(stroke(330, top, 330, bottom), sv("rect", { x: 322, y: 44, width: 16, height: 38, class: "box" }), label(314, 67, resistor, undefined, "end"));
    } else {
      parts.push(sv("circle", { cx: 334, cy: top, r: 3.5, class: "end" }), sv("circle", { cx: 334, cy: bottom, r: 3.5, class: "end" }), label(326, 67, kind === "all_off" ? "all off" : "no load", "says"));
    }
  }
  parts.push(meter(70, top), node(108, top, "P"), node(108, bottom, "G", 18), node(226, top, "Q"), node(226, bottom, "N", 18), meter(256, top));
  return sv("svg", { viewBox: "0 0 360 124", class: "wires", role: "img", "aria-label": title }, parts);
}

/** @type {Record<string, string>} */
const PICTURE_WORDS = {
  run: "Source, ammeter, sense nodes P and G, converter, sense nodes Q and N, ammeter, lamp.",
  open_sweep: "The converter replaced by two wires, nothing connected at the output.",
  straight_through: "The converter replaced by two wires, a calibration resistor at the output.",
  all_off: "The converter replaced by two wires, source off.",
  input_shorted: "A wire across the converter’s input terminals.",
  cross_bridge: "A wire from the converter’s input plus to its output minus.",
  table: "Source, ammeter, sense nodes, converter, sense nodes, ammeter, lamp; read point by point.",
  output_shorted: "A wire across the converter’s output terminals, the source at the output side.",
};

/** The empty figure of the first screen: a frame with ticks and a few contours. */
export function emptyContours() {
  const frame = [];
  for (let i = 0; i <= 24; i += 1) {
    const x = 64 + (i * 1000) / 24;
    const size = i % 4 === 1 ? 6 : 3;
    frame.push(`M${x} 300v${-size}M${x} 20v${size}`);
  }
  for (const y of [45, 70, 105, 128, 152, 175, 200, 225, 262]) frame.push(`M64 ${y}h5M1064 ${y}h-5`);
  return sv("svg", { viewBox: "0 0 1100 340", class: "contour", preserveAspectRatio: "none", "aria-hidden": "true" },
    sv("path", { class: "frame", d: "M64 20H1064V300H64Z" + frame.join("") }),
    sv("path", { class: "dash", d: "M106 27H1000Q1030 80 1038 190V206H920V296H140V170Q112 90 106 27Z" }),
    sv("path", { d: "M110 55Q250 60 252 82T124 110" }),
    sv("path", { d: "M140 34Q470 60 474 78T134 130" }),
    sv("path", { d: "M420 28Q726 46 724 72T130 152" }),
    sv("path", { d: "M760 28Q976 46 976 64T740 108" }),
    sv("path", { d: "M132 180Q300 162 420 158M800 126Q900 110 1026 104" }),
    sv("path", { d: "M138 206Q300 196 440 196M760 190Q900 186 1036 184" }),
    sv("path", { d: "M140 238Q300 234 460 230M720 226Q820 224 912 222" }),
    sv("path", { d: "M140 262Q400 258 900 246" }),
    sv("defs", null, sv("radialGradient", { id: "fade" }, sv("stop", { offset: "0.6", "stop-opacity": "1" }), sv("stop", { offset: "1", "stop-opacity": "0" }))),
    sv("ellipse", { class: "fade", cx: 564, cy: 166, rx: 300, ry: 122 }));
}
