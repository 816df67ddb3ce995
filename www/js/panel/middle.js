// @ts-check
// The middle: view tabs, then the chosen view.

import { h, renderInto, tabKeys } from "../dom.js";
import { refreshChoice } from "../hand.js";
import { currentRun, set, state } from "../state.js";
import { busyLine, notices } from "./busy.js";
import { comparePanel, compareTools } from "./compare.js";
import { countsPanel, countsTools } from "./counts.js";
import { curvesPanel, curvesTools } from "./curves.js";
import { drawEmpty, drawWaitingLogs } from "./empty.js";
import { fixturePanel, fixtureTools } from "./fixture.js";
import { mapTools, mountMap } from "./map.js";
import { hasSettled, settledPanel, settledTools } from "./settled.js";
import { trustPanel } from "./trust.js";

/** @type {[string, string][]} */
const VIEWS = [["map", "Map"], ["curves", "Curves"], ["counts", "Counts"], ["trust", "Trust"], ["settled", "Settled points"], ["compare", "Compare"], ["fixture", "Fixture"]];

/** What a view shows: its tools above and its panel; the map has a lasting element of its own. */
const SHOWN = {
  map: () => ({ tools: mapTools(), panel: null }),
  curves: () => ({ tools: curvesTools(), panel: curvesPanel() }),
  counts: () => ({ tools: countsTools(), panel: countsPanel() }),
  trust: () => ({ tools: null, panel: trustPanel() }),
  settled: () => ({ tools: settledTools(), panel: settledPanel() }),
  compare: () => ({ tools: compareTools(), panel: comparePanel() }),
  fixture: () => ({ tools: fixtureTools(), panel: [drawWaitingLogs(), fixturePanel()] }),
};

function viewTabs() {
  const runs = state.view?.runs?.length ?? 0;
  const can = (/** @type {string} */ id) => (id === "compare" ? runs > 1 : id === "fixture" ? true : id === "settled" ? hasSettled(currentRun()) : runs > 0);
  return h("div", { class: "tabs", role: "tablist", "aria-label": "Views", onkeydown: tabKeys },
    VIEWS.filter(([id]) => can(id)).map(([id, words]) => h("button", {
      role: "tab", id: `tab-${id}`, key: id, "aria-selected": String(state.tab === id), "aria-controls": "view", tabindex: state.tab === id ? "0" : "-1", onclick: () => set({ tab: id }),
    }, words)));
}

/** @param {HTMLElement} parent */
export function mountMiddle(parent) {
  const middle = h("main", { class: "middle", id: "middle", own: true, tabindex: "-1" });
  const map = mountMap();
  // One lasting element: taking it out of the page and back would lose the focus of whoever walks the rows.
  const mapView = h("div", { id: "view", role: "tabpanel", key: "view map", "aria-labelledby": "tab-map", class: "mapview", own: true }, map.element);
  parent.append(middle);
  let shown = "";
  return () => {
    if (shown !== state.tab) {
      shown = state.tab;
      middle.scrollTop = 0;
    }
    if (state.phase === "empty") {
      renderInto(middle, drawEmpty());
      return;
    }
    refreshChoice();
    const { tools, panel } = /** @type {Record<string, () => {tools: any, panel: any}>} */ (SHOWN)[state.tab]();
    renderInto(middle,
      h("div", { class: "views", key: "views" }, viewTabs(), h("div", { class: "viewtools" }, tools)),
      busyLine(),
      notices(""),
      state.tab !== "compare" && state.view?.comparison?.pairs?.[0] ? h("p", { class: "verdict printed", key: "printed" }, state.view.comparison.pairs[0].verdict.text) : null,
      panel === null ? mapView : h("div", { id: "view", role: "tabpanel", key: `view ${state.tab}`, "aria-labelledby": `tab-${state.tab}`, class: state.stale && !state.early ? "sheetview stale" : "sheetview" }, panel));
    if (state.tab === "map") map.update();
  };
}
