// @ts-check
// Words of the calibration: how each run is made, what to take care of, what a result's codes mean.

const LIMIT_FIRST = "Set the current limit first, at low voltage, then close the short, and never exceed what leads, plugs and shunts carry. Use a supply with a current limit; never short a lithium pack or any battery.";

/**
 * The calibration runs in the order in which a person makes them.
 * @type {{kind: string, name: string, time: string, does: string, care: string}[]}
 */
export const CALIBRATION_RUNS = [
  { kind: "all_off", name: "Everything off", time: "20 s", does: "Leads on, source and load switched off.", care: "Wait until nothing is charged or warm before you touch the leads." },
  { kind: "open_sweep", name: "Open sweep", time: "2 min", does: "A wire in place of the converter, nothing at the output. Raise the source slowly from 0 V to its highest.", care: "Fuse the source and stay within the range of every channel." },
  { kind: "straight_through", name: "Straight-through", time: "7 min", does: "The same wires, the calibration resistor at the output. Sweep the current up and down.", care: "The resistor gets hot enough to burn: on a heat sink, in free air, out of reach, and let it cool. Leads and plugs must carry the highest current; a warm contact is a bad contact." },
  { kind: "input_shorted", name: "Input shorted", time: "20 s", does: "A thick wire across the converter’s input terminals, the converter and the load taken off. Sweep the current with a supply in current limit.", care: LIMIT_FIRST },
  { kind: "output_shorted", name: "Output shorted", time: "20 s", does: "A thick wire across the converter’s output terminals, the converter taken off; the supply, in current limit, at the load’s leads, turned so that the output current reads positive.", care: LIMIT_FIRST },
  { kind: "cross_bridge", name: "Cross bridge", time: "20 s", does: "A thick wire from the converter’s input plus to its output minus, the converter taken off; the supply, in current limit, from source plus to load minus.", care: LIMIT_FIRST },
];

/** @param {string} kind */
export function runText(kind) {
  return CALIBRATION_RUNS.find((one) => one.kind === kind) ?? null;
}

/** What each unknown is called in tables and sentences. @type {Record<string, string>} */
export const UNKNOWN = {
  in_high: "in +", in_low: "in −", out_high: "out +", out_low: "out −", shared_ground: "ground lead", correction_in: "R in", correction_out: "R out", correction_sum: "R in + R out",
  voltage_gain_ratio: "volts ratio", low_gain_ratio: "volts ratio of N", current_gain_ratio: "amperes ratio", offsets: "offsets", contacts: "single contacts", division: "the split",
  gain_v_in: "gain V in", gain_v_out_high: "gain V out +", gain_v_out_low: "gain V out −", gain_v_out: "gain V out", gain_i_in: "gain I in", gain_i_out: "gain I out",
  offset_v_in: "offset V in", offset_v_out_high: "offset V out +", offset_v_out_low: "offset V out −", offset_i_in: "offset I in", offset_i_out: "offset I out",
  leak_i_in: "leak I in", leak_i_out: "leak I out", jumper_high: "bridging wire, high", jumper_low: "bridging wire, low",
};

/** @param {string} code */
export function unknownWords(code) {
  return UNKNOWN[code] ?? code.replaceAll("_", " ");
}

/** Unit of a parameter by its name. @param {string} name */
export function unitOf(name) {
  return /gain|ratio/.test(name) ? "" : name.startsWith("leak") ? "A/V" : /^offset_i/.test(name) ? "A" : /^offset_v/.test(name) ? "V" : "Ω";
}

/** Likely causes of a residual’s shape: name and cure. @type {Record<string, [string, string]>} */
export const CAUSE = {
  gain_ratio_or_resistance: ["A gain ratio or the resistance sum", "An open sweep, or a second load resistor of clearly different value, tells them apart."],
  current_offset: ["An offset of a current channel", "Log everything off before and after; let the logger warm up; reverse the leads once."],
  voltage_offset: ["An offset of a voltage channel", "Log everything off before and after; let the logger warm up."],
  leak: ["Volts seen by a current channel", "An open sweep measures it."],
  channel_not_straight: ["A channel that is not straight, or a shunt that warms", "A smaller shunt, shorter pulses, or lines from a reference meter."],
  delay_between_channels: ["Delays between channels", "Let delays be estimated from the straight-through run, or sweep more slowly."],
  drift_or_warming: ["Drift or warming", "Sweep again after warm-up, or more slowly."],
  code_steps: ["Steps at fixed codes of the converter in the logger", "Another logger, or a table of its codes."],
  contact: ["A contact that moves", "Press, clean or replace the plug, then record again."],
  not_white: ["Ripple, or samples that catch part of a cycle", "A filter, or averages over whole cycles."],
};

/** How a piece is known: word, and what it means. @type {Record<string, [string, string]>} */
export const LIT = {
  known: ["known alone", "These runs determine it by itself."],
  sum: ["known in a sum", "Only together with others; efficiency may need no more."],
  assumed: ["assumed", "Only because contacts are taken as alike."],
  unknown: ["not known", "No run reaches it."],
};

export const PLANES = [
  ["converter", "Converter’s terminals", "Everything between the sense nodes and the converter is taken out."],
  ["board", "Board", "Between the sense nodes: what the plugs and inner leads lose counts as the converter’s."],
  ["source_to_load", "Source to load", "From the source’s terminals to the load’s: all leads count."],
];

/** Said where a resistor warmed up. */
export const WARM_HELP = "Sweep faster, pulse with pauses, bolt it to a heat sink, or state it as not known: efficiency does not rest on its value.";
