// @ts-check
// The chain: one card per stage on a thread, row counts between them, what fell out beside.

import { h, renderInto, sv } from "../dom.js";
import { count, counted } from "../format.js";
import { currentRun, set, state } from "../state.js";
import { STAGES, wordsOf } from "../text.js";
import { notices } from "./busy.js";
import { alignmentCard } from "./card_alignment.js";
import { channelsCard, pointsCard } from "./card_plain.js";
import { fixtureCard } from "./card_fixture.js";
import { logCard } from "./card_log.js";
import { sieveCard } from "./card_sieve.js";
import { drawPlan } from "./empty.js";
import { idOf } from "./controls.js";

/** @typedef {{aside: any, sub: any, inside: () => any}} Card */
/** @type {Record<string, () => Card>} */
const CARDS = { log: logCard, channels: channelsCard, alignment: alignmentCard, sieve: sieveCard, fixture: fixtureCard, points: pointsCard };

/** @param {{left: number, out: {reason: string, rows: number}[]}|undefined} step */
function between(step) {
  return h("div", { class: "between" },
    h("span", null, step ? counted(step.left, "row") : ""),
    step && step.out.length ? h("span", { class: "out" }, step.out.map(({ reason, rows }) => h("span", null, `× ${count(rows)} ${wordsOf(reason)}`))) : null);
}

/** @param {string} id */
function toggle(id) {
  set({ card: state.card === id ? "" : id });
}

/** Whether a stage's card is open: chosen, or something was said in it. @param {string} id */
export function isOpen(id) {
  return state.card === id || (state.card === "" && state.notices.some((notice) => notice.card === id));
}

function drawChain() {
  /** @type {any[]} */
  const steps = currentRun()?.rows.stages ?? [];
  return h("div", { class: "chain", key: "chain" },
    h("h2", { class: "away" }, "The chain"),
    STAGES.map((stage, i) => {
      const open = isOpen(stage.id);
      const card = CARDS[stage.id]();
      const inside = idOf(`inside ${stage.id}`);
      return [
        h("section", { class: open ? "stage open" : "stage", key: stage.id },
          h("h3", null, h("button", { class: "head", "aria-expanded": String(open), "aria-controls": inside, onclick: () => toggle(stage.id) },
            h("span", { class: "name" }, stage.name, h("small", null, card.aside)),
            h("span", { class: "sub" }, card.sub))),
          h("div", { class: "inside", id: inside, hidden: !open }, open ? [notices(stage.id), card.inside()] : null)),
        i < STAGES.length - 1 ? between(steps.find((step) => step.stage === stage.id)) : null,
      ];
    }));
}

function drawChainLine() {
  const run = currentRun();
  const now = Math.max(0, STAGES.findIndex((stage) => stage.id === state.card));
  return h("button", { class: "chainline", key: "line", "aria-expanded": String(state.chainShown), onclick: () => set({ chainShown: !state.chainShown }) },
    sv("svg", { viewBox: "0 0 82 12", "aria-hidden": "true" }, sv("line", { x1: 0, x2: 82, y1: 6, y2: 6 }), STAGES.map((stage, i) => sv("rect", { x: i * 14 + 0.5, y: 1.5, width: 9, height: 9, class: i === now ? "now" : undefined }))),
    h("span", null, run ? `${count(run.rows.kept)} of ${count(run.rows.read)}` : "The chain"),
    h("span", { class: "out" }, run && run.rows.removed_count ? `× ${count(run.rows.removed_count)} not kept ` : "", state.chainShown ? "‹" : "›"));
}

/** @param {HTMLElement} parent */
export function mountLeft(parent) {
  const left = h("aside", { class: "left", own: true, "aria-label": "Stages of the chain" });
  parent.append(left);
  return () => {
    left.className = state.chainShown ? "left shown" : "left";
    left.inert = state.early;
    renderInto(left, state.phase === "empty" ? drawPlan() : [drawChainLine(), drawChain()]);
  };
}
