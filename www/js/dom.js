// @ts-check
// Element helpers. A panel describes what it wants with `h` and `sv`; `renderInto` brings the page to
// that state while keeping focus, scroll and half-typed text. Text always goes in as text, never as markup.

const SVG_SPACE = "http://www.w3.org/2000/svg";
/** @type {Set<HTMLCanvasElement>} */
const waitingCanvases = new Set();
let canvasFrame = 0;

/** What a helper-made element carries besides its attributes. */
const extrasOf = new WeakMap();

/**
 * @typedef {{handlers: Record<string, Function>, live: Record<string, unknown>, key: string|null, own: boolean, draw: Function|null}} Extras
 * @param {Element} element @returns {Extras}
 */
function extras(element) {
  let found = extrasOf.get(element);
  if (!found) {
    found = { handlers: {}, live: {}, key: null, own: false, draw: null };
    extrasOf.set(element, found);
  }
  return found;
}

/** Properties that follow the user, so they are set as properties and not as attributes. */
const LIVE = new Set(["value", "checked", "selected", "open", "indeterminate", "paint", "wide"]);

/**
 * Makes an HTML element.
 * @param {string} tag @param {Record<string, any>|null} props @param {...any} children
 * @returns {HTMLElement}
 */
export function h(tag, props, ...children) {
  return /** @type {HTMLElement} */ (fill(document.createElement(tag), props, children));
}

/**
 * Makes an SVG element.
 * @param {string} tag @param {Record<string, any>|null} props @param {...any} children
 * @returns {SVGElement}
 */
export function sv(tag, props, ...children) {
  return /** @type {SVGElement} */ (fill(document.createElementNS(SVG_SPACE, tag), props, children));
}

/** @param {Element} element @param {Record<string, any>|null} props @param {any[]} children */
function fill(element, props, children) {
  const extra = extras(element);
  for (const [name, value] of Object.entries(props ?? {})) {
    if (value === undefined || value === null || value === false && !name.startsWith("aria-") && !LIVE.has(name)) continue;
    if (name === "key") extra.key = String(value);
    else if (name === "own") extra.own = true;
    else if (name === "draw") extra.draw = value;
    else if (name.startsWith("on")) extra.handlers[name.toLowerCase()] = value;
    else if (LIVE.has(name)) extra.live[name] = value;
    else element.setAttribute(name, value === true ? name.startsWith("aria-") ? "true" : "" : String(value));
  }
  for (const [name, handler] of Object.entries(extra.handlers)) /** @type {any} */ (element)[name] = handler;
  for (const child of flatten(children)) element.append(child);
  applyLive(element, extra, true);
  queueDraw(element, extra);
  return element;
}

/** @param {any[]} children @returns {Node[]} */
function flatten(children) {
  const flat = [];
  for (const child of children) {
    if (child === null || child === undefined || child === false || child === "") continue;
    if (Array.isArray(child)) flat.push(...flatten(child));
    else flat.push(child instanceof Node ? child : document.createTextNode(String(child)));
  }
  return flat;
}

/** @param {Element} element @param {Extras} extra @param {boolean} fresh */
function applyLive(element, extra, fresh) {
  const target = /** @type {any} */ (element);
  for (const [name, value] of Object.entries(extra.live)) {
    if (name === "paint") {
      target.style.backgroundColor = value;
      continue;
    }
    if (name === "wide") {
      target.style.width = value;
      continue;
    }
    const typing = !fresh && document.activeElement === element && name === "value" && target.type !== "range" && target.type !== "checkbox";
    if (!typing && target[name] !== value) target[name] = value;
  }
}

/** @param {Element} element @param {Extras} extra */
function queueDraw(element, extra) {
  if (!extra.draw) return;
  waitingCanvases.add(/** @type {HTMLCanvasElement} */ (element));
  if (!canvasFrame) canvasFrame = requestAnimationFrame(drawWaiting);
}

/** Draws now what waits for the next frame. */
export function drawWaiting() {
  canvasFrame = 0;
  const now = [...waitingCanvases];
  waitingCanvases.clear();
  for (const canvas of now) if (canvas.isConnected) extras(canvas).draw?.(canvas);
}

/**
 * Makes the children of `parent` equal to the given ones, keeping elements that are alike.
 * @param {Element} parent @param {...any} children
 */
export function renderInto(parent, ...children) {
  reconcile(parent, flatten(children));
}

/** @param {Element} parent @param {Node[]} fresh */
function reconcile(parent, fresh) {
  const keyed = new Map();
  for (const child of parent.children) {
    const key = extrasOf.get(child)?.key;
    if (key) keyed.set(key, child);
  }
  let at = parent.firstChild;
  for (const node of fresh) {
    const key = node instanceof Element ? extras(node).key : null;
    let match = key ? keyed.get(key) ?? null : at && !(at instanceof Element && extrasOf.get(at)?.key) ? at : null;
    if (match && (match.nodeName !== node.nodeName || match.nodeType !== node.nodeType)) match = null;
    if (!match) {
      parent.insertBefore(node, at);
      continue;
    }
    if (match === at) at = at.nextSibling;
    else parent.insertBefore(match, at);
    become(match, node);
  }
  while (at) {
    const next = at.nextSibling;
    at.remove();
    at = next;
  }
}

/** @param {Node} old @param {Node} fresh */
function become(old, fresh) {
  if (old === fresh) return;
  if (!(old instanceof Element) || !(fresh instanceof Element)) {
    if (old.nodeValue !== fresh.nodeValue) old.nodeValue = fresh.nodeValue;
    return;
  }
  const mine = extras(old);
  const next = extras(fresh);
  if (mine.own) return;
  for (const { name } of [...old.attributes]) {
    if (!fresh.hasAttribute(name) && !(name === "open" && !("open" in next.live))) old.removeAttribute(name);
  }
  for (const { name, value } of fresh.attributes) {
    if (old.getAttribute(name) === value) continue;
    // The page's policy refuses a style that is set as an attribute.
    if (name === "style") /** @type {HTMLElement} */ (old).style.cssText = value;
    else old.setAttribute(name, value);
  }
  for (const name of Object.keys(mine.handlers)) if (!(name in next.handlers)) /** @type {any} */ (old)[name] = null;
  for (const [name, handler] of Object.entries(next.handlers)) /** @type {any} */ (old)[name] = handler;
  mine.handlers = next.handlers;
  mine.live = next.live;
  mine.draw = next.draw;
  reconcile(old, [...fresh.childNodes]);
  applyLive(old, mine, false);
  queueDraw(old, mine);
}

/** Calls `work` once per frame however often the returned function is called. @param {() => void} work */
export function oncePerFrame(work) {
  let waiting = false;
  return () => {
    if (waiting) return;
    waiting = true;
    requestAnimationFrame(() => {
      waiting = false;
      work();
    });
  };
}

/** Offers bytes or text as a file to keep. @param {string} name @param {BlobPart} part @param {string} type */
export function offerFile(name, part, type) {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([part], { type }));
  link.download = name;
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(link.href), 30000);
}

/** Whether keys typed now belong to a text field. @param {EventTarget|null} target */
export function inTextField(target) {
  if (!(target instanceof HTMLElement)) return false;
  if (target instanceof HTMLTextAreaElement || target.isContentEditable) return true;
  return target instanceof HTMLInputElement && !["range", "checkbox", "radio", "button", "file"].includes(target.type);
}

/** A horizontal tab list's arrow keys: moves focus and clicks. @param {KeyboardEvent} event */
export function tabKeys(event) {
  const list = /** @type {HTMLElement} */ (event.currentTarget);
  const tabs = /** @type {HTMLElement[]} */ ([...list.querySelectorAll('[role="tab"]')]);
  const now = tabs.findIndex((tab) => tab === document.activeElement);
  if (now < 0) return;
  let next = now;
  if (event.key === "ArrowRight") next = (now + 1) % tabs.length;
  else if (event.key === "ArrowLeft") next = (now + tabs.length - 1) % tabs.length;
  else if (event.key === "Home") next = 0;
  else if (event.key === "End") next = tabs.length - 1;
  else return;
  event.preventDefault();
  tabs[next].focus();
  tabs[next].click();
}

/** One colour of the current theme. @param {string} name without the leading dashes */
export function colourOf(name) {
  return getComputedStyle(document.documentElement).getPropertyValue(`--${name}`).trim();
}
