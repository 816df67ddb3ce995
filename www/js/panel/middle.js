// @ts-check
// The middle: view tabs, then the chosen view.

import { h, renderInto, tabKeys } from "../dom.js";
import { set, state } from "../state.js";
import { busyLine, notices } from "./busy.js";
import { comparePanel, compareTools } from "./compare.js";
import { curvesPanel, curvesTools } from "./curves.js";
import { drawEmpty, drawWaitingLogs } from "./empty.js";
import { fixturePanel, fixtureTools } from "./fixture.js";
import { mapTools, mountMap } from "./map.js";

/** @type {[string, string][]} */
const VIEWS = [["map", "Map"], ["curves", "Curves"], ["compare", "Compare"], ["fixture", "Fixture"]];

function viewTabs() {
  const runs = state.view?.runs?.length ?? 0;
  const can = (/** @type {string} */ id) => (id === "compare" ? runs > 1 : id === "fixture" ? true : runs > 0);
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
    const tools = state.tab === "map" ? mapTools() : state.tab === "curves" ? curvesTools() : state.tab === "compare" ? compareTools() : fixtureTools();
    const panel = state.tab === "curves" ? curvesPanel() : state.tab === "compare" ? comparePanel() : state.tab === "fixture" ? [drawWaitingLogs(), fixturePanel()] : null;
    renderInto(middle,
      h("div", { class: "views", key: "views" }, viewTabs(), h("div", { class: "viewtools" }, tools)),
      busyLine(),
      notices(""),
      state.tab !== "compare" && state.view?.comparison?.pairs?.[0] ? h("p", { class: "verdict printed", key: "printed" }, state.view.comparison.pairs[0].verdict.text) : null,
      panel === null ? mapView : h("div", { id: "view", role: "tabpanel", key: `view ${state.tab}`, "aria-labelledby": `tab-${state.tab}`, class: state.stale && !state.early ? "sheetview stale" : "sheetview" }, panel));
    if (state.tab === "map") map.update();
  };
}
