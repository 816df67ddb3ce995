// @ts-check
// What is being done, and what went wrong.

import { h, sv } from "../dom.js";
import { count, fileSize } from "../format.js";
import { dismiss, state, stopWork } from "../state.js";
import { wrong } from "./controls.js";

/** The thin line with rows done and Cancel; nothing within the first second. */
export function busyLine() {
  const busy = state.busy;
  if (!busy || performance.now() - busy.since < 950) return h("div", { key: "busy", role: "status", class: "away" });
  const share = busy.total ? Math.min(1, (busy.done ?? 0) / busy.total) : null;
  const amount = (/** @type {number} */ n) => (busy.unit === "bytes" ? fileSize(n) : count(n));
  const unit = busy.unit === "bytes" ? "" : ` ${busy.unit}`;
  const words = busy.total ? `${busy.text}: ${amount(busy.done ?? 0)} of ${amount(busy.total)}${unit}` : busy.done ? `${busy.text}: ${amount(busy.done)}${unit}` : busy.text;
  return h("div", { key: "busy", class: "busy", role: "status" },
    sv("svg", { viewBox: "0 0 100 2", preserveAspectRatio: "none", "aria-hidden": "true" }, sv("rect", { x: 0, y: 0, width: share === null ? 12 : share * 100, height: 2 })),
    h("span", null, words),
    busy.cancel ? h("button", { class: "btn", onclick: stopWork }, "Cancel") : null);
}

/** Sentences that belong to one card, or to the page. @param {string} card */
export function notices(card) {
  const mine = state.notices.filter((notice) => notice.card === card);
  if (!mine.length) return null;
  return h("div", { class: "notices", key: `notices ${card}` },
    mine.map((notice) => h("div", { class: notice.good ? "notice good" : "notice", key: `notice ${notice.id}` },
      notice.good ? h("div", { role: "status" }, h("p", null, notice.text), h("p", { class: "note" }, notice.hint)) : wrong(notice.text, notice.hint),
      notice.act ? h("button", { class: "btn", onclick: () => { dismiss(notice.id); notice.act?.does(); } }, notice.act.words) : null,
      h("button", { class: "btn bare icon", onclick: () => dismiss(notice.id), "aria-label": "Put this message away" }, "×"))));
}
