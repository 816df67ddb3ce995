// @ts-check
// The Compare view: the verdict first, then the cells both runs reached, then the table.

import { count, counted, fixed, pieces, quantity } from "../format.js";
import { colourOf, h } from "../dom.js";
import { cellAxes, boxes, stepOf } from "../figure/boxes.js";
import { vector } from "../figure/paint.js";
import { KNOB, hasKnob, knob, turn } from "../knobs.js";
import { set, state } from "../state.js";
import { GRADE, wordsOf } from "../text.js";
import { choice, numberRow, select, table } from "./controls.js";
import { planeCaption, planeLine } from "./plane.js";
import { svgButton } from "./vector.js";

/** The pair in front, or null. */
function currentPair() {
  const pairs = state.view?.comparison?.pairs ?? [];
  const runs = state.view?.runs ?? [];
  const names = [runs[state.run]?.name, runs[state.second]?.name];
  const at = pairs.findIndex((/** @type {any} */ pair) => names.includes(pair.first) && names.includes(pair.second));
  state.pair = at < 0 ? Math.min(state.pair, Math.max(0, pairs.length - 1)) : at;
  return pairs[state.pair] ?? null;
}

export function compareTools() {
  const runs = state.view?.runs ?? [];
  const options = runs.map((/** @type {any} */ run, /** @type {number} */ i) => /** @type {[string, string]} */ ([String(i), run.name]));
  return [
    runs.length > 2 ? [
      select({ name: "first", label: "First run", value: String(state.run), options: options.filter(([i]) => Number(i) !== state.second), set: (value) => set({ run: Number(value), cell: null }) }),
      select({ name: "second", label: "Second run", value: String(state.second), options: options.filter(([i]) => Number(i) !== state.run), set: (value) => set({ second: Number(value), cell: null }) }),
    ] : null,
    choice({ name: "difference in", label: "Difference in", value: state.differenceIn, options: [["points", "Points"], ["watts", "Watts"]], set: (differenceIn) => set({ differenceIn }) }),
  ];
}

/** @param {any} cell the cell's difference in the unit chosen */
function difference(cell) {
  return state.differenceIn === "watts" ? { value: cell.loss?.value ?? null, u: cell.loss?.u ?? null } : { value: cell.value, u: cell.u };
}

/** @param {any} pair @param {number} i */
function winnerOf(pair, i) {
  return pair.winner?.[i]?.value ?? null;
}

/** Puts cells into rows and columns by their grid edges, or by nearness where none are given. @param {any} pair */
function gridOf(pair) {
  const cells = pair.difference ?? [];
  const edges = pair.edges ?? null;
  const column = edges ? (/** @type {number} */ v) => stepOf(edges.v_in, v) : groups(cells.map((/** @type {any} */ cell) => cell.v_in), 0.25);
  const line = edges ? (/** @type {number} */ i) => stepOf(edges.i_out, i) : groups(cells.map((/** @type {any} */ cell) => Math.log(Math.max(cell.i_out, 1e-6))), 0.25, true);
  /** @type {Map<number, Map<number, number>>} */
  const lines = new Map();
  cells.forEach((/** @type {any} */ cell, /** @type {number} */ i) => {
    const at = line(cell.i_out);
    if (!lines.has(at)) lines.set(at, new Map());
    /** @type {any} */ (lines.get(at)).set(column(cell.v_in), i);
  });
  const columns = [...new Set([...lines.values()].flatMap((one) => [...one.keys()]))].sort((a, b) => a - b);
  return { cells, lines: [...lines].sort((a, b) => b[0] - a[0]), columns };
}

/** Groups of values that lie close together compared with the usual step. @param {number[]} values @param {number} share @param {boolean} [log] */
function groups(values, share, log = false) {
  const sorted = [...new Set(values)].sort((a, b) => a - b);
  const steps = sorted.slice(1).map((value, i) => value - sorted[i]).sort((a, b) => a - b);
  const gap = Math.max((sorted[sorted.length - 1] - sorted[0]) / 26, (steps[steps.length - 1] ?? 1) * share * 0.5);
  /** @type {number[]} */
  const starts = [];
  sorted.forEach((value, i) => {
    if (i === 0 || value - sorted[i - 1] > gap) starts.push(value);
  });
  return (/** @type {number} */ raw) => {
    const value = log ? Math.log(Math.max(raw, 1e-6)) : raw;
    let at = 0;
    while (at < starts.length - 1 && value >= starts[at + 1]) at += 1;
    return at;
  };
}

/** @param {string} hex @param {number} share */
function tint(hex, share) {
  const n = parseInt(hex.slice(1), 16);
  return `rgba(${n >> 16}, ${(n >> 8) & 255}, ${n & 255}, ${share.toFixed(3)})`;
}

/** @param {any} pair */
function differenceMap(pair) {
  const { cells, lines, columns } = gridOf(pair);
  if (!cells.length) return h("p", { class: "said" }, "The two runs have no cell in common, so nothing is claimed.");
  const most = Math.max(...cells.map((/** @type {any} */ cell) => Math.abs(difference(cell).value ?? 0)), 1e-9);
  const watts = state.differenceIn === "watts";
  const mean = (/** @type {number[]} */ list) => list.reduce((a, b) => a + b, 0) / list.length;
  const [copper, slate] = [colourOf("copper"), colourOf("slate")];
  const heads = columns.map((column) => mean(lines.flatMap(([, one]) => (one.has(column) ? [cells[/** @type {number} */ (one.get(column))].v_in] : []))));
  return h("div", { class: "diff", tabindex: "0", role: "group", "aria-label": "Difference by cell" }, h("table", null,
    h("caption", { class: "away" }, `Difference ${pair.first} minus ${pair.second} in ${watts ? "watts of loss" : "points of efficiency"}, output current down, input voltage across.`),
    h("tbody", null, lines.map(([, one]) => h("tr", null,
      h("th", { scope: "row" }, fixed(mean([...one.values()].map((i) => cells[i].i_out)), 2)),
      columns.map((column) => {
        const i = one.get(column);
        if (i === undefined) return h("td", { class: "none" }, "");
        const q = difference(cells[i]);
        const winner = winnerOf(pair, i);
        const shown = shownOf(cells[i]);
        const strength = Math.min(1, Math.abs(q.value ?? 0) / most);
        return h("td", { class: winner === null ? "hatch" : undefined, paint: winner === null ? "" : tint((q.value ?? 0) >= 0 ? copper : slate, 0.1 + 0.5 * strength) },
          h("button", { "aria-pressed": String(state.cell === i), "aria-label": cellWords(pair, i), onclick: () => set({ cell: i }), onmouseenter: () => set({ cell: i }), onfocus: () => set({ cell: i }) }, winner === null ? h("span", { class: "quiet" }, shown) : shown));
      })))),
    h("tfoot", null, h("tr", null, h("td", null, "A / V"), heads.map((v) => h("td", null, fixed(v, columns.length > 10 ? 1 : 2)))))));
}

/** A cell's difference as it stands in its box. @param {any} cell */
function shownOf(cell) {
  const { value } = difference(cell);
  const watts = state.differenceIn === "watts";
  return value === null ? "" : fixed(value * (watts ? 1 : 100), watts ? 2 : 1);
}

/** The difference map as a file, on the axes of the cells' sides. @param {any} pair */
function saveDifference(pair) {
  const cells = pair.difference ?? [];
  const sides = boxes(cells, pair.edges);
  if (!sides.length) return null;
  const watts = state.differenceIn === "watts";
  const most = Math.max(...cells.map((/** @type {any} */ cell) => Math.abs(difference(cell).value ?? 0)), 1e-9);
  return svgButton({
    what: "difference", title: `Difference, ${pair.first} minus ${pair.second}, ${planeLine()}`,
    lines: [
      `Cells both runs reached: input voltage in V, output current in A, ${planeLine()}: ${planeCaption()}.`,
      `Colour and numbers: ${watts ? "loss in W" : "efficiency in points"}, ${pair.first} minus ${pair.second}. Hatched: no difference shown. ± is 95 %.`,
      pair.verdict?.text,
    ],
    make: (words) => vector("cells", {
      ...cellAxes(sides),
      bar: { ramp: "difference", range: [-most, most], title: watts ? "difference of loss / W" : "difference / points", factor: watts ? 1 : 100 },
      cells: sides.map((one, i) => ({ x: one.x, y: one.y, value: winnerOf(pair, i) === null ? null : difference(one.cell).value, text: shownOf(one.cell), hatch: winnerOf(pair, i) === null })),
    }, { width: 960, height: 480 }, words),
  });
}

/** @param {any} pair @param {number} i */
function cellWords(pair, i) {
  const cell = pair.difference[i];
  const winner = winnerOf(pair, i);
  return `${fixed(cell.v_in, 2)} V, ${fixed(cell.i_out, 3)} A: ${quantity(difference(cell), state.differenceIn === "watts" ? "W" : "points")}, ${winner === null ? "no difference shown" : `${winner} loses less`}`;
}

/** What lies under the pointer on the difference map. @param {any} pair */
export function cellReading(pair) {
  const i = state.cell;
  const cell = pair.difference?.[i ?? -1];
  if (!cell) return h("section", { class: "reading", key: "cell" }, h("div", { class: "over" }, h("span", null, "Under the pointer"), h("span", null, "± is 95 %")), h("p", { class: "note" }, "Point at a cell, or move to it with Tab."));
  const watts = state.differenceIn === "watts";
  const part = pieces(difference(cell), watts ? "W" : "points");
  const winner = winnerOf(pair, i);
  return h("section", { class: "reading", key: "cell" },
    h("div", { class: "over" }, h("span", null, "Under the pointer"), h("span", null, `${fixed(cell.v_in, 2)} V, ${fixed(cell.i_out, 3)} A`)),
    h("div", { class: "big" }, h("b", null, part.value), h("span", null, part.pm === null ? "" : `± ${part.pm}`), h("small", null, watts ? `${part.unit || "W"} of loss` : "points", h("br", null), "± is 95 %")),
    table(["", ""], [
      [`${pair.first} minus ${pair.second}`, quantity({ value: cell.value, u: cell.u }, "points")],
      ["Loss", quantity(cell.loss, "W")],
      ["± from scatter", quantity({ value: cell.u_random, u: null }, "points", 2)],
      ["± from fixture and delays", quantity({ value: cell.u_systematic, u: null }, "points", 2)],
      ["Rows", count(cell.n)],
      ["Passes", count(cell.visits)],
    ].filter(([, value]) => value !== "–"), "facts", "The cell"),
    h("p", { class: "said" }, winner === null ? "No difference shown here." : `${winner} loses less here.`));
}

/** Per level or current: who loses less, in words. @param {any} pair */
function byLevel(pair) {
  const { cells, lines } = gridOf(pair);
  return table(["A", "loses less, by input voltage", "points", "loss"], lines.map(([, one]) => {
    const list = [...one.values()].sort((a, b) => cells[a].v_in - cells[b].v_in);
    /** @type {{winner: string|null, from: number, to: number}[]} */
    const stretches = [];
    for (const i of list) {
      const winner = winnerOf(pair, i);
      const last = stretches[stretches.length - 1];
      if (last && last.winner === winner) last.to = cells[i].v_in;
      else stretches.push({ winner, from: cells[i].v_in, to: cells[i].v_in });
    }
    const middle = cells[list[Math.floor(list.length / 2)]];
    return [
      fixed(middle.i_out, 2),
      h("div", null, stretches.map((one) => h("div", null, h("span", { class: one.winner === null ? "quiet" : one.winner === pair.first ? "firstrun" : "secondrun" }, one.winner ?? "no difference shown"), stretches.length > 1 ? ` ${fixed(one.from, 1)} to ${fixed(one.to, 1)} V` : " everywhere"))),
      quantity({ value: middle.value, u: middle.u }, "points").replace(" points", ""), quantity(middle.loss, "W"),
    ];
  }), "levels", "Who loses less, by output current; numbers at the middle input voltage");
}

/** The first sentence large, the rest below it. @param {string} text */
function verdict(text) {
  const [first, ...rest] = text.split(/(?<=[.])\s+(?=\p{Lu})/u);
  return [h("h2", { class: "verdict", key: "verdict" }, first), rest.length ? h("p", { class: "said", key: "verdict rest" }, rest.join(" ")) : null];
}

export function comparePanel() {
  const pair = currentPair();
  if (!pair) return h("p", { class: "said" }, "A second converter’s run is needed to compare. Add its log.");
  const crossing = (pair.crossovers ?? []).filter((/** @type {any} */ one) => one.value !== null);
  const grade = (state.view.runs ?? []).find((/** @type {any} */ run) => run.name === pair.first)?.grade;
  return h("div", { class: state.stale && !state.early ? "comparison dim" : "comparison" },
    state.stale ? h("p", { class: "note updating", role: "status", key: "updating" }, state.early ? `As saved with this page${state.core === "broken" ? "." : "; the logs are being read."}` : "updating") : null,
    verdict(pair.verdict?.text ?? "Nothing is claimed."),
    h("p", { class: "note" }, "± is 95 %. ", grade ? `${GRADE[grade][0]}: ` : "", grade === "as_logged" ? "one wiring is assumed for both, its error not known." : "what the fixture shares between both runs cancels in the difference."),
    hasKnob(KNOB.replug) ? h("div", { class: "asked", key: "asked knobs" },
      numberRow({ name: "replug", label: "Scatter of a plug made again", unit: "mΩ, one standard deviation", value: Number((knob(KNOB.replug) * 1e3).toPrecision(6)), least: 0, most: 100, set: (/** @type {number|null} */ value) => turn(KNOB.replug, (value ?? 0) / 1e3, "") }),
      numberRow({ name: "no difference", label: "No difference means below", unit: "points", value: Number((knob(KNOB.noDifference) * 100).toPrecision(6)), least: 0.01, most: 10, set: (/** @type {number|null} */ value) => value !== null && turn(KNOB.noDifference, value / 100, "") })) : null,
    h("div", { class: "sheets" },
      h("section", { class: "plate whole", key: "diff" }, h("h2", null, `Difference, ${pair.first} minus ${pair.second}`, h("small", null, state.differenceIn === "watts" ? "watts of loss" : "points of efficiency", h("span", { class: "key hatch" }), "no difference shown")), differenceMap(pair),
        h("p", { class: "note" }, `Cells both runs reached, ${planeLine()}: output current / A down, input voltage / V across. Copper: ${pair.first} higher; slate: ${pair.second} higher.`), h("div", { class: "figfoot" }, saveDifference(pair))),
      h("section", { class: "plate whole", key: "levels" }, h("h2", null, "Where each loses less"), byLevel(pair), h("p", { class: "note" }, `${counted((pair.difference ?? []).filter((/** @type {any} */ _, /** @type {number} */ i) => winnerOf(pair, i) !== null).length, "cell")} of ${count(pair.difference?.length ?? 0)} differ; the share found by chance is held at one in twenty.`)),
      crossing.length ? h("section", { class: "plate whole", key: "cross" }, h("h2", null, "Where they cross"), table(["input / V", "output current"], crossing.map((/** @type {any} */ one) => [fixed(one.v_in, 2), quantity({ value: one.value, u: one.u }, "A")]), "facts", "Crossing by input voltage")) : null,
      pair.difference_at?.length ? h("section", { class: "plate whole", key: "asked" }, h("h2", null, "At the asked points"), table(["input / V", "output / A", "points", "loses less"], pair.difference_at.map((/** @type {any} */ one, /** @type {number} */ i) => [fixed(one.v_in, 2), fixed(one.i_out, 3), one.value === null ? wordsOf(one.why ?? "not covered") : quantity({ value: one.value, u: one.u }, "points").replace(" points", ""), one.value === null ? "–" : pair.winner_at?.[i]?.value ?? "no difference shown"]), "", "Differences at the asked points")) : null));
}
