// @ts-check
// Line drawings of the wirings, made of the same few parts. Units are those of the viewBox.

import { sv } from "../dom.js";

/** @param {number} x1 @param {number} y1 @param {number} x2 @param {number} y2 @param {string} [kind] */
function stroke(x1, y1, x2, y2, kind) {
  return sv("line", { x1, y1, x2, y2, class: kind });
}

/** @param {number} x @param {number} y @param {string} words @param {string} [kind] @param {string} [anchor] */
function label(x, y, words, kind, anchor) {
  return sv("text", { x, y, class: [kind, anchor].filter(Boolean).join(" ") || undefined }, words);
}

/** A source drawn as four plates between two rails. @param {number} x @param {number} top @param {number} bottom */
function source(x, top, bottom) {
  const mid = (top + bottom) / 2;
  return [
    stroke(x, top, x, mid - 9), stroke(x, mid + 9, x, bottom),
    stroke(x - 12, mid - 9, x + 12, mid - 9), stroke(x - 7, mid - 3, x + 7, mid - 3),
    stroke(x - 12, mid + 3, x + 12, mid + 3), stroke(x - 7, mid + 9, x + 7, mid + 9),
  ];
}

/** @param {number} x @param {number} y */
function ammeter(x, y) {
  return [sv("circle", { cx: x, cy: y, r: 9, class: "meter" }), label(x, y + 4, "A")];
}

/** @param {number} x @param {number} y @param {string} name @param {number} [below] */
function node(x, y, name, below = -10) {
  return [sv("circle", { cx: x, cy: y, r: 4, class: "node" }), label(x, y + below, name, "node")];
}

/** A wire across the place of the converter. @param {number} x1 @param {number} x2 @param {number} y @param {number} below */
function bridge(x1, x2, y, below) {
  return [stroke(x1, y, x2, y, "wire"), stroke(x1, y - 5, x1, y + 5), stroke(x2, y - 5, x2, y + 5), label((x1 + x2) / 2, y + below, "wire", "hot")];
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
  parts.push(ammeter(70, top), node(108, top, "P"), node(108, bottom, "G", 18), node(226, top, "Q"), node(226, bottom, "N", 18), ammeter(256, top));
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

/** Where a sense node sits against the plug. @param {boolean} near @param {string} name of the node @returns {SVGElement} */
export function sensePicture(near, name) {
  return sv("svg", { viewBox: "0 0 130 34", class: "wires sense", role: "img", "aria-label": near ? "The sense node between plug and converter." : "The plug between sense node and converter." },
    stroke(4, 22, 98, 22), sv("rect", { x: near ? 28 : 58, y: 16, width: 22, height: 12, class: near ? "unknown" : "known" }), node(near ? 74 : 36, 22, name, -8), sv("rect", { x: 98, y: 8, width: 28, height: 24, class: "box" }));
}

/** @param {number} x @param {number} y */
function lamp(x, y) {
  return [sv("path", { d: `M${x - 8} ${y + 4}h16l-8 13z` }), stroke(x - 8, y + 17, x + 8, y + 17), stroke(x, y, x, y + 4), stroke(x, y + 17, x, y + 26)];
}

/**
 * What lies between the sense nodes and the converter: the four contacts, lit where known.
 * @param {{inside: {in_high: boolean, in_low: boolean, out_high: boolean, out_low: boolean}, asSum: boolean, rIn: string, rOut: string, path: string, load: string}} what
 */
export function fixtureSchematic(what) {
  const [top, bottom] = [70, 160];
  /** @param {number} x @param {number} y @param {string} words @param {boolean} known @param {number} below */
  const contact = (x, y, words, known, below) => [
    sv("rect", { x: x - 31, y: y - 8, width: 62, height: 16, class: known ? "known" : "unknown" }),
    label(x, y + below, words, "soft"),
  ];
  /** @param {number} x @param {number} y */
  const lead = (x, y) => sv("rect", { x: x - 22, y: y - 8, width: 44, height: 16, class: "unknown" });
  /** @param {number} x @param {number} y */
  const pin = (x, y) => sv("rect", { x: x - 3, y: y - 3, width: 6, height: 6, class: "pin" });
  const parts = [
    source(30, top, bottom), label(30, top - 22, "source"),
    stroke(30, top, 292, top), stroke(30, bottom, 292, bottom), stroke(410, top, 686, top), stroke(410, bottom, 686, bottom),
    lead(80, top), lead(80, bottom), label(80, bottom + 26, "leads", "soft"), label(130, top - 22, "I in", "soft"), ammeter(130, top),
    node(178, top, "P", -14), node(178, bottom, "G", 22),
    contact(236, top, "in +", what.inside.in_high, -16), contact(236, bottom, "in −", what.inside.in_low, 26),
    sv("rect", { x: 292, y: 44, width: 118, height: 142, rx: 2, class: "box" }), label(351, 112, "converter", "serif"), label(351, 132, "or a wire", "says"),
    pin(292, top), pin(292, bottom), pin(410, top), pin(410, bottom),
    contact(466, top, "out +", what.inside.out_high, -16), contact(466, bottom, "out −", what.inside.out_low, 26),
    node(524, top, "Q", -14), node(524, bottom, "N", 22), label(572, top - 22, "I out", "soft"), ammeter(572, top),
    lead(624, top), lead(624, bottom), label(624, bottom + 26, "leads", "soft"),
    stroke(686, top, 686, 96), stroke(686, 134, 686, bottom), sv("rect", { x: 678, y: 96, width: 16, height: 38, class: "box" }), label(700, 119, what.load, "soft", "start"),
    label(236, 109, "R in", "soft"), label(236, 128, what.rIn, "value"), label(466, 109, "R out", "soft"), label(466, 128, what.rOut, "value"),
    what.path ? label(351, 214, what.path, "value") : null,
  ];
  const words = `Schematic. Between input sense nodes and converter: ${what.rIn}. Between converter and output sense nodes: ${what.rOut}. ${what.path}`;
  return sv("svg", { viewBox: "0 0 760 226", class: "wires", role: "img", "aria-label": words }, parts);
}

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
