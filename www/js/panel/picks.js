// @ts-check
// Choices made by picture, and questions that fold away once answered.

import { h } from "../dom.js";
import { changed } from "../state.js";
import { idOf } from "./controls.js";

/**
 * A few exclusive choices, each a picture with its words.
 * @param {{name: string, label: string, value: string, small?: boolean, options: [string, SVGElement|null, string, string?][], set: (value: string) => void}} o options: value, picture, words, more words
 */
export function pictureChoice(o) {
  return h("div", { class: o.small ? "picks small-picks" : "picks", role: "radiogroup", "aria-label": o.label },
    o.options.map(([value, picture, words, more]) => h("label", { class: "pick" },
      h("input", { type: "radio", name: idOf("pick " + o.name), value, checked: value === o.value, onchange: () => o.set(value) }),
      h("span", { class: "face" }, picture, h("b", null, words), more ? h("small", null, more) : null))));
}

/** Which folds were opened or closed by hand. @type {Map<string, boolean>} */
const folds = new Map();

/** @param {string} id @param {boolean} otherwise */
export function isOpen(id, otherwise) {
  return folds.get(id) ?? otherwise;
}

/** Opens or closes a fold. @param {string} id @param {boolean} open */
export function setOpen(id, open) {
  folds.set(id, open);
  changed();
}

/**
 * A part that opens in place. Its inside is made only while it is open.
 * @param {{id: string, open: boolean, kind?: string, title: any, aside?: any, inside: () => any}} o
 */
export function fold(o) {
  const open = isOpen(o.id, o.open);
  return h("details", {
    class: o.kind ?? "fold", id: `fold-${o.id}`, key: `fold ${o.id}`, open,
    ontoggle: (/** @type {any} */ event) => {
      if (event.target.open !== isOpen(o.id, o.open)) setOpen(o.id, event.target.open);
    },
  }, h("summary", null, h("span", { class: "what" }, o.title), o.aside ? h("span", { class: "answer" }, o.aside) : null), open ? h("div", { class: "inside" }, o.inside()) : null);
}
