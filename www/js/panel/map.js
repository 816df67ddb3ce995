// @ts-check
// The Map view: tools, pointer and keys over the layers, the strip's fields, the table.

import { h, oncePerFrame, renderInto, sv } from "../dom.js";
import { count, fixed, pieces, quantity, span } from "../format.js";
import { choose, handKeys, letGo } from "../hand.js";
import { ask } from "../link.js";
import { changed, currentRun, onSettingsSent, overtaken, report, set, state } from "../state.js";
import { GRADE } from "../text.js";
import { afterDrawing, asPair, drawAll, drawHoverNow, drawStripNow, drawn, layers, redrawRows, still, stillNow } from "../figure/map.js";
import { boxRect } from "../figure/chooser.js";
import { themeName } from "../figure/paint.js";
import { pictureOf } from "../figure/picture.js";
import { pairOf, stripFrame } from "../figure/strip.js";
import { along, moved, valueAt, zoomed } from "../figure/view.js";
import { choice, numberField, select, table } from "./controls.js";
import { pickedBar } from "./picked.js";
import { planeCaption, planeLine } from "./plane.js";
import { pulsedBox } from "./pulsed.js";

export function mapTools() {
  return [
    choice({ name: "marks", label: "Show", value: state.marks, options: [["rows", "Rows"], ["cells", "Cells"], ["both", "Both"]], set: (marks) => set({ marks }) }),
    select({ name: "colour", label: "Colour by", value: state.colour, options: [["efficiency", "Colour: efficiency"], ["loss", "Colour: loss"]], set: (colour) => set({ colour }) }),
    h("button", { class: "btn", onclick: savePicture }, "Save figure"),
  ];
}

// --- pointer and keys ------------------------------------------------------------------------------

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

/** @typedef {{x: [number, number], y: [number, number]}} Box volts and amperes */
/** The box being drawn or last drawn, and the choice it made. @type {{box: Box|null, number: number}} */
const drawnBox = { box: null, number: -1 };
/** The row at which a box or a stretch was begun by key. @type {any} */
let anchor = null;

/** @param {{x: number, y: number}} a @param {{x: number, y: number}} b in pixels of the frame @returns {Box} */
function boxBetween(a, b) {
  const frame = drawn.frame;
  const share = (/** @type {number} */ pixel, /** @type {number} */ length) => Math.min(1, Math.max(0, pixel / length));
  const side = (/** @type {any} */ axis, /** @type {number} */ p, /** @type {number} */ q) => /** @type {[number, number]} */ ([valueAt(axis, Math.min(p, q)), valueAt(axis, Math.max(p, q))]);
  return { x: side(drawn.x, share(a.x, frame.width), share(b.x, frame.width)), y: side(drawn.y, 1 - share(a.y, frame.height), 1 - share(b.y, frame.height)) };
}

/** Chooses the rows shown in a box of the map; within the stretch of time, where one is set. @param {Box} box */
async function chooseBox(box) {
  drawnBox.box = box;
  const time = state.selection ? { time: state.selection } : {};
  const made = await choose({ v_in: box.x, i_out: box.y, shown: true, ...(state.rejected ? {} : { kept: true }), ...time }, `Input ${fixed(box.x[0], 2)} to ${fixed(box.x[1], 2)} V, output ${fixed(box.y[0], 3)} to ${fixed(box.y[1], 3)} A${state.selection ? ", within the stretch of time" : ""}.`);
  drawnBox.number = made?.number ?? -1;
}

/** Chooses a stretch of time. @param {[number, number]} time */
function chooseTime(time) {
  return choose({ time }, `From ${span(time[0], true)} to ${span(time[1], true)}.`);
}

/** Begins at the row under the cursor, or ends there: a box in the map, a stretch in the strip. @param {boolean} inStrip */
function anchorOrEnd(inStrip) {
  const now = state.reading;
  if (!now) return;
  if (!anchor || anchor.run !== state.run) {
    anchor = { run: state.run, row: now.row, time: now.time, v_in: now.v_in, i_out: now.i_out };
    choose({ rows: [now.row, now.row] }, inStrip ? "Walk on and press Enter: the stretch between." : "Walk on and press Enter: the box between.");
    return;
  }
  const pair = (/** @type {number} */ a, /** @type {number} */ b) => /** @type {[number, number]} */ (a < b ? [a, b] : [b, a]);
  const from = anchor;
  anchor = null;
  if (inStrip) {
    const time = pair(from.time, now.time);
    set({ selection: time });
    chooseTime(time);
  } else chooseBox({ x: pair(from.v_in, now.v_in), y: pair(from.i_out, now.i_out) });
}

function dropChoice() {
  anchor = null;
  drawnBox.box = null;
  letGo();
}

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
function zoom(factor, fx = 0.5, fy = 0.5) {
  if (!drawn.x) return;
  set({ frame: { x: zoomed(drawn.x, factor, fx), y: zoomed(drawn.y, factor, fy) } });
}

/** @param {number} dx @param {number} dy */
function pan(dx, dy) {
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
function keys(event) {
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

/** @param {PointerEvent} event */
function stripTime(event) {
  const box = layers.strip.getBoundingClientRect();
  const frame = stripFrame(box.width);
  const [from, to] = pairOf(drawn.strip.time);
  return from + (to - from) * Math.min(1, Math.max(0, (event.clientX - box.left - frame.left) / frame.width));
}

/** @type {number|null} */
let stripFrom = null;

// --- mounting --------------------------------------------------------------------------------------

/** @param {string} words @param {string} label @param {() => void} act */
function tool(words, label, act) {
  return h("button", { class: "btn icon", "aria-label": label, title: label, onclick: act }, words);
}

function header() {
  const run = currentRun();
  const rows = run.rows;
  const name = `${state.colour === "loss" ? "Loss" : "Efficiency"} ${planeLine(run)}`;
  const planes = planeCaption(run);
  const below = drawn.raster?.off_scale_share ?? 0;
  return [
    h("div", null, h("h2", { id: "figure-title" }, name), h("p", null, `${count(rows.kept)} rows kept, ${planes}; ${count(rows.removed_count)} rows out, as crosses. `, below > 0.0005 ? `${fixed(below * 100, 1)} % of rows lie off the colour scale.` : "")),
    h("div", { class: "tools" },
      tool("+", "Zoom in", () => zoom(0.7)), tool("−", "Zoom out", () => zoom(1.43)), tool("←", "Move left", () => pan(-0.2, 0)), tool("→", "Move right", () => pan(0.2, 0)), tool("↑", "Move up", () => pan(0, 0.2)), tool("↓", "Move down", () => pan(0, -0.2)),
      h("button", { class: "btn", onclick: () => set({ frame: null }), disabled: !state.frame }, "Fit"),
      h("button", { class: "btn", "aria-pressed": String(state.choosing), title: "A drag chooses rows; without it, Shift and drag does", onclick: () => set({ choosing: !state.choosing }) }, "Choose rows"),
      h("button", { class: "btn", "aria-pressed": String(state.logCurrent), onclick: () => set({ logCurrent: !state.logCurrent, frame: null }) }, state.logCurrent ? "log A" : "linear A"),
      h("button", { class: "btn", "aria-pressed": String(state.rejected), onclick: () => set({ rejected: !state.rejected }) }, state.rejected ? "× shown" : "× hidden")),
    state.early ? h("span", { class: "updating", role: "status" }, state.core === "broken" ? "" : "saved cells; reading the rows") : state.stale && !state.ahead ? h("span", { class: "updating", role: "status" }, "updating") : null,
  ];
}

/** Rings of findings that have a place on the map. */
function rings() {
  if (!drawn.frame || !drawn.x) return null;
  return (currentRun()?.findings ?? []).map((/** @type {any} */ finding, /** @type {number} */ i) => {
    const [v, a] = [finding.numbers?.v_in?.value, finding.numbers?.i_out?.value];
    if (!Number.isFinite(v) || !Number.isFinite(a) || (drawn.y.log && a <= 0)) return null;
    const [fx, fy] = [along(drawn.x, v), along(drawn.y, a)];
    if (fx < 0 || fx > 1 || fy < 0 || fy > 1) return null;
    const ring = h("button", { class: "ringmark", key: `ring ${i}`, "aria-pressed": String(state.finding === i), "aria-label": `Finding ${i + 1}: ${finding.text}`, onclick: () => set({ finding: state.finding === i ? -1 : i }) }, String(i + 1));
    ring.style.left = `${drawn.frame.left + fx * drawn.frame.width}px`;
    ring.style.top = `${drawn.frame.top + (1 - fy) * drawn.frame.height}px`;
    return ring;
  });
}

/** The box that was drawn. */
function boxMark() {
  const mine = drawnBox.number === -1 || state.picked?.number === drawnBox.number;
  if (!drawnBox.box || !drawn.frame || !drawn.x || !mine) return null;
  return sv("svg", { class: "chosen", key: "box", "aria-hidden": "true" }, boxRect({ frame: drawn.frame, x: drawn.x, y: drawn.y }, drawnBox.box));
}

/** A pulsed output is said beside its figure. @param {any} run */
function pulsedNote(run) {
  const box = pulsedBox(run, false);
  return box ? h("div", { class: "plate pulsednote" }, box) : null;
}

/** The map as a table: its cells. */
function cellTable() {
  const cells = currentRun()?.map?.[state.colour] ?? [];
  if (!cells.length) return h("p", { class: "note" }, "There are no cells yet.");
  const unit = state.colour === "loss" ? "W" : "%";
  return h("div", { class: "scroll", tabindex: "0", role: "group", "aria-label": "Cells of the map" }, table(["input / V", "output / A", state.colour === "loss" ? "loss" : "efficiency / %, ± points", "rows", "visits"],
    cells.map((/** @type {any} */ cell) => [fixed(cell.v_in, 2), fixed(cell.i_out, 3), h("span", null, quantity({ value: cell.value, u: cell.u ?? cell.u_random }, unit).replace(" %", ""), cell.thin ? h("span", { class: "quiet" }, " thin") : null), count(cell.n), count(cell.visits)]), "", "Cells of the map"));
}

function summary() {
  const run = currentRun();
  const extent = drawn.extent;
  const peak = pieces(run?.peak?.efficiency, "%");
  const range = extent?.v_in ? ` Input ${asPair(extent.v_in)?.map((v) => fixed(v, 2)).join(" to ")} V, output ${asPair(extent.i_out)?.map((v) => fixed(v, 3)).join(" to ")} A.` : "";
  return `${run?.name ?? ""}: ${count(run?.rows.kept)} rows by input voltage and output current, coloured by ${state.colour}.${range}${peak.value !== "–" ? ` Best efficiency ${peak.value} %.` : ""} Arrow keys walk the rows, Home and End go to the first and last; Enter begins a box at the row and ends it at another; Delete takes the chosen rows out, K keeps them, U undoes by hand; plus and minus zoom, 0 fits, Escape clears.`;
}

/** Why the figure stands empty, or nothing where it does not. @param {any} run */
function nothingToShow(run) {
  const rows = run.rows;
  const say = (/** @type {any} */ words, /** @type {string} */ card, /** @type {string} */ act) => h("div", { class: "nothing" }, h("p", null, words), h("button", { class: "btn", onclick: () => set({ card, chainShown: true }) }, act));
  if (rows.read === 0) return say("The log holds no row.", "log", "Open the log’s card");
  if (rows.kept === 0) return say("No row is kept, so there is nothing to show. Fewer least rows, or a gate switched off, brings rows back.", "sieve", "Open the Sieve");
  if (rows.operating !== 0) return null;
  const fell = (rows.stages ?? []).find((/** @type {any} */ stage) => stage.stage === "fixture")?.out ?? [];
  const [limit, off] = ["supply_limit", "off"].map((reason) => fell.find((/** @type {any} */ one) => one.reason === reason)?.rows ?? 0);
  const because = [
    off ? `in ${count(off)} the output is off or its current too small to judge` : null,
    limit ? `in ${count(limit)} the supply is in its current limit` : null,
  ].filter(Boolean).join(", and ");
  const kept = `${rows.kept === 1 ? "One row is" : `${count(rows.kept)} rows are`} kept, but none is an operating point${because ? `: ${because}` : ""}.`;
  return limit >= off && limit
    ? say(`${kept} Look whether the columns are what they are taken for, or lift the supply’s limit.`, "log", "Look at the columns")
    : say(`${kept} Look whether the current columns and their units are right.`, "log", "Look at the columns");
}

export function mountMap() {
  const canvas = (/** @type {string} */ name) => {
    layers[name] = /** @type {HTMLCanvasElement} */ (h("canvas", { "aria-hidden": "true", class: name }));
    return layers[name];
  };
  const head = h("header", { own: true });
  const marks = h("div", { own: true });
  const none = h("div", { own: true });
  const front = h("div", { class: "stage-front", tabindex: "0", role: "application", "aria-roledescription": "figure", onkeydown: keys, onpointermove: pointerMove });
  const paper = /** @type {HTMLCanvasElement} */ (h("canvas", { class: "paper", "aria-hidden": "true" }));
  const box = h("div", { class: "layers" }, canvas("raster"), canvas("axes"), canvas("hover"), front, marks, none, paper);
  addEventListener("beforeprint", () => {
    const made = element.isConnected ? stillNow() : null;
    if (!made) return;
    [paper.width, paper.height] = [made.canvas.width, made.canvas.height];
    /** @type {CanvasRenderingContext2D} */ (paper.getContext("2d")).drawImage(made.canvas, 0, 0);
  });
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
  const stripFront = h("div", { class: "front", tabindex: "0", role: "application", "aria-roledescription": "figure", "aria-label": "Time strip: voltage, current, efficiency and rows out against time. Arrow keys walk the rows; the fields below choose a stretch.", onkeydown: keys });
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
  const strip = h("div", { class: "strip" }, canvas("strip"), canvas("cursor"), stripFront);
  const foot = h("div", { class: "stripfoot", own: true });
  const chosen = h("div", { own: true });
  const tableBox = h("div", { own: true });
  const details = h("details", { class: "tableview", ontoggle: () => update() }, h("summary", null, "The map as a table"), tableBox);
  const figure = h("section", { class: "plate figure", "aria-labelledby": "figure-title" }, head, box);
  const element = h("div", { class: "mapwrap", own: true, key: "map" }, figure, chosen, strip, foot, details);
  const redraw = oncePerFrame(() => {
    drawAll();
    drawStripNow();
  });
  onSettingsSent(redrawRows);
  new ResizeObserver(redraw).observe(box);
  new ResizeObserver(redraw).observe(strip);

  let lastKey = "";
  function update() {
    const run = currentRun();
    figure.classList.toggle("stale", state.stale && !state.ahead && !state.early);
    if (!run) return;
    renderInto(head, header());
    front.setAttribute("aria-label", summary());
    renderInto(marks, rings(), boxMark());
    box.classList.toggle("choosing", state.choosing);
    renderInto(chosen, pulsedNote(run), pickedBar());
    renderInto(none, nothingToShow(run));
    renderInto(foot, selectionFields());
    if (/** @type {HTMLDetailsElement} */ (details).open) renderInto(tableBox, cellTable());
    const key = JSON.stringify([state.viewNumber, state.run, state.frame, state.marks, state.colour, state.rejected, state.logCurrent, state.finding, state.selection, state.picked?.number, state.core, state.early, themeName()]);
    if (key !== lastKey) {
      lastKey = key;
      redraw();
    } else drawHoverNow();
  }
  afterDrawing(() => {
    renderInto(marks, rings(), boxMark());
    renderInto(head, header());
  });
  return { element, update };
}

function selectionFields() {
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
    h("span", null, "Stretch from"), numberField({ name: "from", label: "Start of the stretch in seconds", value: at ? Number(at[0].toFixed(2)) : null, place: fixed(from, 0), set: edit(0) }),
    h("span", null, "to"), numberField({ name: "to", label: "End of the stretch in seconds", value: at ? Number(at[1].toFixed(2)) : null, place: fixed(to, 0), set: edit(1) }), h("span", null, "s"),
    at ? h("button", { class: "btn", onclick: () => { set({ selection: null }); dropChoice(); } }, "Whole run") : h("span", { class: "quiet" }, "or drag in the strip; rows outside it fade"),
    at ? h("span", null, span(at[1] - at[0])) : null,
    h("span", { class: "keys quiet" }, "In the figure: arrows walk rows, Enter twice chooses what lies between, Delete takes out, K keeps, U undoes by hand; + and − zoom, 0 fits, Escape clears."),
  ];
}

/** Saves the figure as a picture with its caption burned in. */
export async function savePicture() {
  const run = currentRun();
  if (!run || !drawn.frame || state.early) return;
  let figure = null;
  try {
    figure = await still();
  } catch (error) {
    if (!overtaken(error)) report(error);
  }
  if (!figure) return;
  const fixture = state.view.fixture;
  const rows = run.rows;
  pictureOf({
    name: run.name, title: `${state.colour === "loss" ? "Loss" : "Efficiency"} ${planeLine(run)}`,
    figure,
    lines: [
      `${run.name}: ${count(rows.kept)} rows kept of ${count(rows.read)}, ${count(rows.removed_count)} out as crosses.`,
      fixture ? `Quoted ${planeLine(run)}: ${planeCaption(run)}; between sense nodes and converter ${quantity(fixture.correction_in, "Ω")} at the input, ${quantity(fixture.correction_out, "Ω")} at the output.` : "Between the sense nodes as logged: no calibration, accuracy not known.",
      run.peak?.efficiency?.value ? `Best efficiency ${quantity(run.peak.efficiency, "%")} (points) at ${quantity(run.peak.v_in, "V")} in, ${quantity(run.peak.i_out, "A")} out. ± is 95 %.` : "± is 95 %, efficiency in points.",
      GRADE[run.grade] ? `${GRADE[run.grade][0]}. ${GRADE[run.grade][1]}` : "",
    ].filter(Boolean),
  });
}

