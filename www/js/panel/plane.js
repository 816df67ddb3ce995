// @ts-check
// Between which points efficiency is quoted: one choice, said on every figure.

import { hasKnob, knob, turn } from "../knobs.js";
import { currentRun, state } from "../state.js";
import { PLANES } from "../text_fixture.js";
import { select } from "./controls.js";

/** The plane of the run in front, as the results say it. @param {any} [run] */
function planeOf(run = currentRun()) {
  return run?.plane ?? state.view?.fixture?.plane ?? (state.view?.fixture ? "converter" : "board");
}

/** @type {Record<string, string>} */
const AT = { converter: "at the converter’s terminals", board: "at the board, between the sense nodes", source_to_load: "from source to load, all leads counted" };

/** "at the converter’s terminals". @param {any} [run] */
export function planeLine(run) {
  return AT[planeOf(run)] ?? AT.converter;
}

/** What became of the wiring, for a caption. @param {any} [run] */
export function planeCaption(run) {
  const plane = planeOf(run);
  if (!state.view?.fixture) return "as logged, nothing of the wiring removed";
  return plane === "board" ? "channels corrected, plugs and inner leads counted as loss" : plane === "source_to_load" ? "channels corrected, all leads counted as loss" : "the fixture removed from axes and colour";
}

export function planeChoice() {
  if (!hasKnob("fixture.plane")) return null;
  return select({ name: "plane", label: "Efficiency is quoted", value: knob("fixture.plane", "converter"), options: PLANES.map(([code, words]) => /** @type {[string, string]} */ ([code, words])), set: (value) => turn("fixture.plane", value, "fixture") });
}
