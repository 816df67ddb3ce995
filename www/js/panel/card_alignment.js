// @ts-check
// The Alignment card: delays between channels, where they come from, what taking them out does; other loggers' clocks.

import { h } from "../dom.js";
import { pieces, plain, quantity, sentence } from "../format.js";
import { currentRun, state } from "../state.js";
import { CHANNEL } from "../text.js";
import { CLOCK_FROM, CLOCK_WHY, DELAY_FROM, DELAY_WHY } from "../text_rows.js";
import { KNOB, hasKnob, knob, setInputSaid, turn } from "../knobs.js";
import { choice, numberRow, table, wrong } from "./controls.js";

/** @param {any} q */
function known(q) {
  return q && q.value !== null && q.value !== undefined;
}

export function alignmentCard() {
  const run = currentRun();
  const alignment = run?.alignment;
  const delays = Object.values(alignment?.delays ?? {}).filter((/** @type {any} */ q) => known(q) && q.value !== 0);
  const last = delays.sort((/** @type {any} */ a, /** @type {any} */ b) => Math.abs(b.value) - Math.abs(a.value))[0];
  const from = alignment?.from ?? "none";
  return {
    aside: last ? `${quantity(/** @type {any} */ (last), "s", 3)} at most` : "no delays",
    sub: from === "none" ? DELAY_WHY[alignment?.why]?.[0] ?? DELAY_FROM.none : DELAY_FROM[from] ?? from,
    inside: () => inside(run, alignment),
  };
}

/** @param {any} run @param {any} alignment */
function inside(run, alignment) {
  const from = alignment?.from ?? "none";
  const delays = Object.entries(alignment?.delays ?? {});
  const stated = knob(KNOB.delays) === "stated";
  return [
    hasKnob(KNOB.delays) && typeof knob(KNOB.delays) === "string" ? h("div", { class: "row" }, h("span", null, "Delays"), choice({ name: "delays", label: "Delays", value: knob(KNOB.delays), options: [["auto", "found"], ["none", "none"], ["stated", "stated"]], set: (value) => turn(KNOB.delays, value, "alignment") })) : null,
    from === "none" && alignment?.why && DELAY_WHY[alignment.why] ? h("p", { class: "said" }, DELAY_WHY[alignment.why][1]) : null,
    delays.length ? table(["channel", "after the row’s time; ± is 95 %"], delays.map(([channel, q]) => [CHANNEL[channel] ?? channel, delayWords(q)]), "facts", "Delays by channel") : from === "none" && !alignment?.why ? h("p", { class: "note" }, "No delays are known, so none are taken out.") : null,
    from === "none" ? null : h("p", { class: "note" }, sentence(DELAY_FROM[from] ?? from)),
    gap(alignment),
    hasKnob(KNOB.delaySeconds) && stated ? h("div", { class: "group" }, h("h4", null, "Stated, after the row’s time"), ["v_in", "i_in", "v_out_high", "v_out_low", "i_out"].map((channel, i) => numberRow({ name: `delay ${channel}`, label: CHANNEL[channel], unit: "ms", value: knob(KNOB.delaySeconds)?.[i] === null ? null : (knob(KNOB.delaySeconds)?.[i] ?? 0) * 1e3, empty: true, set: (/** @type {number|null} */ value) => turn(`${KNOB.delaySeconds}.${i}`, value === null ? null : value / 1e3, "alignment") }))) : null,
    (alignment?.loggers ?? []).map(logger),
    h("p", { class: "note" }, "Channels are moved by straight lines between neighbouring rows, never across gaps, restarts or steps. Where a row changes faster than the ± of the delays allows, the gate “too fast for the delays” takes it out."),
  ];
}

/** @param {any} q */
function delayWords(q) {
  if (!known(q)) return h("span", { class: "quiet" }, q?.why ? CLOCK_WHY[q.why] ?? "cannot tell" : "cannot tell");
  const part = pieces(q, "s", 4);
  return h("span", null, `${quantity(q, "s", 4)}`, part.pm === null ? h("span", { class: "quiet" }, " ± not known") : null);
}

/** What taking the delays out did. @param {any} alignment */
function gap(alignment) {
  const [before, after] = [alignment?.gap_before, alignment?.gap_after];
  if (before === null || before === undefined) return null;
  return h("div", { class: "group" }, h("h4", null, "Rising against falling rows, in efficiency"),
    table(["", "gap"], [["as logged", `${plain(before, "points", 2)}`], ["at one instant", after === null || after === undefined ? "–" : `${plain(after, "points", 2)}`]], "facts", "Gap between rising and falling rows"),
    h("p", { class: "note" }, "The root mean square over narrow bands of output current. Heating leaves a gap too: it does not grow with the speed of the sweep."));
}

/** Another logger of the same run. @param {any} one */
export function logger(one) {
  const name = state.view?.inputs?.[one.input]?.name ?? `input ${one.input + 1}`;
  const stated = state.settings?.inputs?.[one.input]?.clock ?? null;
  const say = (/** @type {any} */ part) => setInputSaid(one.input, "clock", part === null ? null : { offset: 0, offset_u: null, ratio: 1, ratio_u: null, ...stated, ...part });
  return h("div", { class: "group clock", key: `logger ${one.input}` },
    h("h4", null, `${name}: its own clock`),
    h("p", { class: "note" }, `${sentence(CLOCK_FROM[one.from] ?? one.from)}${one.by?.length ? ` By ${one.by.map((/** @type {string} */ channel) => CHANNEL[channel] ?? channel).join(" and ")}.` : ""} Its channels: ${(one.channels ?? []).map((/** @type {string} */ channel) => CHANNEL[channel] ?? channel).join(", ")}.`),
    one.why && CLOCK_WHY[one.why] ? wrong(CLOCK_WHY[one.why]) : null,
    table(["", ""], [
      ["its zero, on the first log’s clock", known(one.offset) ? quantity(one.offset, "s", 6) : "cannot tell"],
      ["it runs slow by", known(one.ratio_ppm) ? `${quantity(one.ratio_ppm, "", 3)} ppm` : "cannot tell"],
      ["time in common", plain(one.shared, "s", 4)],
      ["misfit as started together", one.misfit_before === null ? "–" : `${plain(one.misfit_before, "%", 2)} of the scatter`],
      ["misfit on one clock", one.misfit_after === null ? "–" : `${plain(one.misfit_after, "%", 2)} of the scatter`],
    ].filter(([, value]) => value !== "–"), "facts", "The other logger’s clock"),
    h("details", { key: `clock ${one.input}` }, h("summary", null, "State its clock instead"),
      numberRow({ name: `clock offset ${one.input}`, label: "Its zero on the first log’s clock", unit: "s", value: stated?.offset ?? null, empty: true, place: "found", set: (/** @type {number|null} */ value) => say(value === null ? null : { offset: value }) }),
      numberRow({ name: `clock offset u ${one.input}`, label: "its standard uncertainty", unit: "s", value: stated?.offset_u ?? null, least: 0, empty: true, place: "not known", disabled: !stated, set: (/** @type {number|null} */ value) => say({ offset_u: value }) }),
      numberRow({ name: `clock ratio ${one.input}`, label: "First clock’s seconds per its second", value: stated?.ratio ?? null, least: 0.5, most: 2, empty: true, place: "1", disabled: !stated, set: (/** @type {number|null} */ value) => say({ ratio: value ?? 1 }) }),
      numberRow({ name: `clock ratio u ${one.input}`, label: "its standard uncertainty", value: stated?.ratio_u ?? null, least: 0, empty: true, place: "not known", disabled: !stated, set: (/** @type {number|null} */ value) => say({ ratio_u: value }) })));
}
