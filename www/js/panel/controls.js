// @ts-check
// Controls that several cards share.

import { h, sv } from "../dom.js";
import { fieldText, fixed, readNumber } from "../format.js";

let serial = 0;
/** @type {Map<string, string>} */
const ids = new Map();

/** One lasting id per name, so that labels stay tied while panels are drawn again. @param {string} name */
export function idOf(name) {
  let id = ids.get(name);
  if (!id) {
    serial += 1;
    id = `w${serial}`;
    ids.set(name, id);
  }
  return id;
}

/**
 * A range input drawn as a ruler, with a number field.
 * @param {{name: string, label: string, value: number|null, otherwise?: number, steps: number[], unit: string, marks: number[], most?: number, least?: number, whole?: boolean, disabled?: boolean, set: (value: number) => void}} o
 */
export function ruler(o) {
  const id = idOf("ruler " + o.name);
  const last = o.steps.length - 1;
  const place = (/** @type {number} */ value) => {
    let best = 0;
    for (let i = 1; i <= last; i += 1) if (Math.abs(o.steps[i] - value) < Math.abs(o.steps[best] - value)) best = i;
    return best;
  };
  const shown = o.value ?? o.otherwise ?? o.steps[0];
  const ticks = o.marks.map((mark) => ({ mark, x: 2 + (96 * place(mark)) / last }));
  return h("div", { class: "ruler" },
    h("div", { class: "row" },
      h("label", { for: id }, o.label),
      numberField({ name: `${o.name} number`, label: `${o.label}, as a number`, value: o.value, place: "found", least: o.least ?? o.steps[0], most: o.most ?? o.steps[last], disabled: o.disabled, set: (value) => value !== null && o.set(o.whole === false ? value : Math.round(value)) })),
    h("input", {
      type: "range", id, min: "0", max: String(last), step: "1", value: String(place(shown)), disabled: o.disabled,
      "aria-valuetext": o.value === null ? "found by itself" : `${fixed(shown, Number.isInteger(shown) ? 0 : 3)} ${o.unit}`,
      oninput: (/** @type {any} */ event) => o.set(o.steps[Number(event.target.value)]),
    }),
    sv("svg", { "aria-hidden": "true" },
      ticks.map(({ mark, x }) => [sv("line", { x1: `${x}%`, x2: `${x}%`, y1: 0, y2: 6 }), sv("text", { x: `${x}%`, y: 18 }, fixed(mark, Number.isInteger(mark) ? 0 : 1))])));
}

/**
 * A number field that takes a point or a comma; wrong input stays and says so. Enter takes what is typed, Escape puts
 * back what stood there; both leave the field.
 * @param {{name: string, label: string, value: number|null, least?: number, most?: number, empty?: boolean, disabled?: boolean, wide?: boolean, place?: string, set: (value: number|null) => void}} o
 */
export function numberField(o) {
  const id = idOf("field " + o.name);
  return h("input", {
    type: "text", inputmode: "decimal", id, class: o.wide ? "field" : "field num", "aria-label": o.label, autocomplete: "off", spellcheck: "false",
    value: fieldText(o.value), disabled: o.disabled, placeholder: o.place,
    oninput: (/** @type {any} */ event) => sound(event.target),
    onkeydown: (/** @type {any} */ event) => {
      if (event.key === "Escape") {
        event.target.value = fieldText(o.value);
        sound(event.target);
      } else if (event.key !== "Enter") return;
      event.target.blur();
    },
    onblur: (/** @type {any} */ event) => {
      const field = event.target;
      const text = field.value;
      if (text === fieldText(o.value)) return;
      if (text.trim() === "" && o.empty) {
        o.set(null);
        return;
      }
      const value = readNumber(text);
      if (value === null || (o.least !== undefined && value < o.least) || (o.most !== undefined && value > o.most)) {
        field.setAttribute("aria-invalid", "true");
        field.title = value === null ? `“${text}” is not a number. Use digits with a point or a comma.` : `Between ${o.least ?? "any"} and ${o.most ?? "any"}.`;
        return;
      }
      o.set(value);
    },
  });
}

/** Nothing is wrong with a field, or no longer. @param {HTMLInputElement} field */
function sound(field) {
  field.removeAttribute("aria-invalid");
  field.title = "";
}

/** A row with a label and a number field. @param {any} o as for {@link numberField}, `unit` shown after the label */
export function numberRow(o) {
  return h("div", { class: "row" }, h("label", { for: idOf("field " + o.name) }, o.label, o.unit ? h("span", { class: "quiet" }, ` / ${o.unit}`) : null), numberField(o));
}

/**
 * A few exclusive choices side by side.
 * @param {{name: string, label: string, value: string, options: [string, string][], disabled?: boolean, set: (value: string) => void}} o
 */
export function choice(o) {
  return h("span", { class: "choice", role: "radiogroup", "aria-label": o.label },
    o.options.map(([value, words]) => h("label", null,
      h("input", { type: "radio", name: idOf("choice " + o.name), value, checked: value === o.value, disabled: o.disabled, onchange: () => o.set(value) }),
      h("span", null, words))));
}

/** @param {any} o as for {@link choice} */
export function choiceRow(o) {
  return h("div", { class: "row choices" }, h("span", null, o.label), choice(o));
}

/** @param {{label: string, value: boolean, note?: any, disabled?: boolean, set: (value: boolean) => void}} o */
export function switchRow(o) {
  return h("label", { class: "switch" }, h("span", null, o.label, o.note ? h("span", { class: "note" }, " ", o.note) : null),
    h("input", { type: "checkbox", role: "switch", checked: o.value, disabled: o.disabled, onchange: (/** @type {any} */ event) => o.set(event.target.checked) }));
}

/** @param {{name: string, label: string, value: string, options: [string, string][], hidden?: boolean, set: (value: string) => void}} o */
export function select(o) {
  return h("select", { id: idOf("select " + o.name), "aria-label": o.label, value: o.value, onchange: (/** @type {any} */ event) => o.set(event.target.value) },
    o.options.map(([value, words]) => h("option", { value }, words)));
}

/** A caution. @param {string} words */
export function careBox(words) {
  return h("p", { class: "care" }, h("b", null, "Take care. "), words);
}

/** A sentence about something wrong, with what to do. @param {string} text @param {string|null} [hint] */
export function wrong(text, hint) {
  return h("div", { class: "bad", role: "alert" }, h("div", null, h("p", null, text), hint ? h("p", { class: "note" }, hint) : null));
}

/** A table. @param {any[]} head @param {any[][]} rows @param {string} [kind] @param {string} [caption] */
export function table(head, rows, kind, caption) {
  return h("table", { class: kind },
    caption ? h("caption", { class: "away" }, caption) : null,
    head.length ? h("thead", null, h("tr", null, head.map((cell) => h("th", { scope: "col" }, cell)))) : null,
    h("tbody", null, rows.map((row) => h("tr", null, row.map((cell) => h("td", null, cell))))));
}
