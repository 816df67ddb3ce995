// @ts-check
// What was chosen in a figure and what can be done with it.

import { h } from "../dom.js";
import { count, counted } from "../format.js";
import { ACTS, byHand, decide, decideChosen, letGo, undoAllByHand } from "../hand.js";
import { state } from "../state.js";

/** The bar under a figure: how many rows are chosen, and the acts. */
export function pickedBar() {
  const picked = state.picked;
  const hand = byHand();
  if (!picked) {
    return h("div", { class: "pickedbar none", key: "picked", role: "group", "aria-label": "Chosen rows" }, handWords(hand));
  }
  return h("div", { class: "pickedbar", key: "picked", role: "group", "aria-label": "Chosen rows" },
    h("p", { role: "status" }, h("b", null, `${counted(picked.count, "row")} chosen`),
      picked.count ? `: ${count(picked.kept)} kept, ${count(picked.out)} out${picked.removed_by_hand ? `, ${count(picked.removed_by_hand)} of them by hand` : ""}${picked.kept_by_hand ? `; ${count(picked.kept_by_hand)} kept by hand` : ""}. ` : ". ", h("span", { class: "quiet" }, picked.words)),
    h("div", { class: "acts" },
      ACTS.map(([what, words, key]) => h("button", { class: what === "remove" ? "btn main" : "btn", disabled: !picked.count || (what === "undo" && !picked.removed_by_hand && !picked.kept_by_hand), title: `${words} (${key} in the figure)`, onclick: () => decideChosen(what) }, words)),
      h("button", { class: "btn bare", onclick: letGo, title: "Let go (Escape in the figure)" }, "Let go")),
    handWords(hand));
}

/** "12 rows taken out by hand", with a way back. @param {{removed: number, kept: number}} hand */
export function handWords(hand) {
  if (!hand.removed && !hand.kept) return null;
  const parts = [hand.removed ? `${counted(hand.removed, "row")} taken out` : "", hand.kept ? `${counted(hand.kept, "row")} kept` : ""].filter(Boolean);
  return h("p", { class: "note byhand" }, `By hand: ${parts.join(", ")}. `, h("button", { class: "btn bare", onclick: undoAllByHand }, "Undo all by hand"));
}

/** The acts for one row. @param {number} row @param {boolean} kept */
export function rowActs(row, kept) {
  return h("span", { class: "acts" },
    kept ? h("button", { class: "btn bare", onclick: () => decide("remove", [[row, row]]), "aria-label": `Take row ${row} out` }, "Take out") : null,
    h("button", { class: "btn bare", onclick: () => decide("keep", [[row, row]]), "aria-label": `Keep row ${row}` }, "Keep"),
    h("button", { class: "btn bare", onclick: () => decide("undo", [[row, row]]), "aria-label": `Undo by hand for row ${row}` }, "Undo by hand"));
}
