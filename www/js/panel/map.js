// @ts-check
// The Map view: tools, layers, the strip under them, the table.

import { h, oncePerFrame, renderInto } from "../dom.js";
import { count, fixed } from "../format.js";
import { currentRun, onSettingsSent, set, state } from "../state.js";
import { afterDrawing, drawAll, drawHoverNow, drawStripNow, drawn, layers, redrawRows, stillNow } from "../figure/map.js";
import { themeName } from "../figure/paint.js";
import { along } from "../figure/view.js";
import { choice, select } from "./controls.js";
import { boxMark } from "./map_choose.js";
import { mapKeys, pan, watchFigure, zoom } from "./map_moves.js";
import { saveFigure } from "./map_save.js";
import { selectionFields, watchStrip } from "./map_strip.js";
import { cellTable, nothingToShow, summary } from "./map_words.js";
import { pickedBar } from "./picked.js";
import { planeCaption, planeLine } from "./plane.js";
import { pulsedBox } from "./pulsed.js";

export function mapTools() {
  return [
    choice({ name: "marks", label: "Show", value: state.marks, options: [["rows", "Rows"], ["cells", "Cells"], ["both", "Both"]], set: (marks) => set({ marks }) }),
    select({ name: "colour", label: "Colour by", value: state.colour, options: [["efficiency", "Colour: efficiency"], ["loss", "Colour: loss"]], set: (colour) => set({ colour }) }),
    h("button", { class: "btn", onclick: () => saveFigure("png"), title: "As a picture with its caption" }, "Save figure"),
    h("button", { class: "btn", onclick: () => saveFigure("svg"), "aria-label": "Save as SVG: the map", title: "As lines and words; the rows as a picture inside" }, "Save as SVG"),
  ];
}

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
    state.early ? h("span", { class: "updating", role: "status" }, state.core === "broken" ? "" : "saved cells; reading the rows") : state.stale && !state.ahead ? h("span", { class: "updating", role: "status" }, "updating") : drawn.late ? h("span", { class: "updating", role: "status" }, `drawing ${count(rows.read)} rows`) : null,
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

/** A pulsed output is said beside its figure. @param {any} run */
function pulsedNote(run) {
  const box = pulsedBox(run, false);
  return box ? h("div", { class: "plate pulsednote" }, box) : null;
}

export function mountMap() {
  const canvas = (/** @type {string} */ name) => {
    layers[name] = /** @type {HTMLCanvasElement} */ (h("canvas", { "aria-hidden": "true", class: name }));
    return layers[name];
  };
  const head = h("header", { own: true });
  const marks = h("div", { own: true });
  const none = h("div", { own: true });
  const front = h("div", { class: "stage-front", tabindex: "0", role: "application", "aria-roledescription": "figure", onkeydown: mapKeys });
  const paper = /** @type {HTMLCanvasElement} */ (h("canvas", { class: "paper", "aria-hidden": "true" }));
  const box = h("div", { class: "layers" }, canvas("raster"), canvas("axes"), canvas("hover"), front, marks, none, paper);
  addEventListener("beforeprint", () => {
    const made = element.isConnected ? stillNow() : null;
    if (!made) return;
    [paper.width, paper.height] = [made.canvas.width, made.canvas.height];
    /** @type {CanvasRenderingContext2D} */ (paper.getContext("2d")).drawImage(made.canvas, 0, 0);
  });
  watchFigure(front, box);
  const stripFront = h("div", { class: "front", tabindex: "0", role: "application", "aria-roledescription": "figure", "aria-label": "Time strip: voltage, current, efficiency and rows out against time. Arrow keys walk the rows; the fields below choose a stretch.", onkeydown: mapKeys });
  watchStrip(stripFront);
  const strip = h("div", { class: "strip" }, canvas("strip"), canvas("cursor"), stripFront);
  const foot = h("div", { class: "stripfoot", own: true });
  const chosen = h("div", { own: true });
  const tableBox = h("div", { own: true });
  const details = h("details", { class: "tableview", ontoggle: () => update() }, h("summary", null, "The map as a table"), tableBox);
  const figure = h("section", { class: "plate figure", "aria-labelledby": "figure-title" }, head, box);
  const element = h("div", { class: "mapwrap", own: true, key: "map" }, figure, chosen, strip, foot, details);
  const redraw = oncePerFrame(() => {
    drawAll();
    drawStripNow().then(() => renderInto(foot, selectionFields()));
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
