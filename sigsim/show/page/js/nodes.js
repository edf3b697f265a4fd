/* The elements of one thing on the line: made once, then only moved and re-lettered. */

/** @import { Drawn } from "./types.js" */
/** @import { Shown } from "./store.js" */
/** @import { Place } from "./lay.js" */
/** @import { Worded } from "./things.js" */
import { draw, make, write } from "./dom.js";

/**
 * @typedef {object} LineNode
 * @property {HTMLElement} element what has the focus
 * @property {HTMLElement|null} gap its "+"
 * @property {HTMLElement|null} ring
 * @property {HTMLElement} label
 * @property {SVGGElement} drawing
 * @property {SVGPathElement} wire
 * @property {SVGPathElement} hair
 * @property {string} sort another one needs other elements
 */

/** @typedef {{editable: boolean, live: boolean, listens: boolean}} Offered */

/** @param {Worded} one
 * @param {Offered} offered */
export const sortOf = (one, offered) => {
  if (one.role === "cable" || one.role === "tap") {
    return `${one.role} ${one.thing.ring ? "slider" : offered.editable ? "button" : "img"}`;
  }
  return one.role;
};

/** @param {Worded} one
 * @param {string} sort */
const elementOf = (one, sort) => {
  const key = one.thing.key;
  const attributes = { "data-key": key, class: one.role === "joint" ? "gap" : one.role, tabindex: -1 };
  const words = () => [make("span", { class: "name", dir: "auto" }), " ", make("span", { class: "state" })];
  if (one.role === "cable") return make("div", { ...attributes, role: sort.split(" ")[1] });
  if (one.role === "tap") return make("div", { ...attributes, role: sort.split(" ")[1] }, words());
  if (one.role === "joint") return make("button", { ...attributes, type: "button" });
  return make("button", { ...attributes, type: "button" }, words());
};

/**
 * @param {Worded} one
 * @param {Offered} offered
 * @returns {LineNode}
 */
export const nodeOf = (one, offered) => {
  const sort = sortOf(one, offered), element = elementOf(one, sort), key = one.thing.key;
  const wire = draw("path", { class: "wire" }), hair = draw("path", { class: "hair" });
  const gap = one.role === "joint" ? element
    : one.role === "cable" ? make("button", { type: "button", class: "gap", "data-key": key, tabindex: -1 }) : null;
  const ring = one.role === "cable" || one.role === "tap" ? make("span", { class: "ring", "data-key": key }) : null;
  const label = make("span", { class: "length", "data-key": key, "aria-hidden": "true", dir: "auto" });
  return { element, gap, ring, label, wire, hair, sort, drawing: draw("g", { "data-of": key }, hair, wire) };
};

/* Where things stand and how large they are, as written last: asking a style costs more than writing it. */
/** @type {WeakMap<HTMLElement, string>} */
const stoodAt = new WeakMap();
/** @type {WeakMap<HTMLElement, string>} */
const sizedTo = new WeakMap();

/** @param {HTMLElement} element
 * @param {number} x
 * @param {number} y */
export const standAt = (element, x, y) => {
  const text = `translate(${Math.round(x)}px, ${Math.round(y)}px)`;
  if (stoodAt.get(element) === text) return;
  stoodAt.set(element, text);
  element.style.transform = text;
};

/** @param {HTMLElement} element
 * @param {number} width
 * @param {number} height */
const sizeTo = (element, width, height) => {
  const text = `${Math.ceil(width)} ${Math.ceil(height)}`;
  if (sizedTo.get(element) === text) return;
  sizedTo.set(element, text);
  element.style.width = `${Math.ceil(width)}px`;
  element.style.height = `${Math.ceil(height)}px`;
};

/** @param {Element} element
 * @param {string} name
 * @param {string|null} value */
export const attribute = (element, name, value) => {
  if (element.getAttribute(name) === value) return;
  if (value === null) element.removeAttribute(name);
  else element.setAttribute(name, value);
};

/**
 * The part of a cable that a finger finds: its pieces, at least 24 px each way.
 * @param {LineNode} node
 * @param {Place} place
 */
const reachOf = (node, place) => {
  const rects = place.pieces.map((piece) => {
    const width = Math.max(piece.width + 6, 24);
    return { x: piece.x + (piece.width - width) / 2, y: piece.y - (place.folded ? 20 : 6), width, height: place.folded ? 40 : 24 };
  });
  const [first, ...more] = rects;
  standAt(node.element, place.x + first.x, place.y + first.y);
  sizeTo(node.element, first.width, first.height);
  const spans = /** @type {HTMLElement[]} */ ([...node.element.children]);
  spans.slice(more.length).forEach((span) => span.remove());
  more.forEach((rect, i) => {
    const span = spans[i] ?? node.element.appendChild(make("span", { class: "reach" }));
    standAt(span, rect.x - first.x, rect.y - first.y);
    sizeTo(span, rect.width, rect.height);
  });
};

/**
 * Put a thing where it stands.
 * @param {LineNode} node
 * @param {Worded} one
 * @param {Place} place
 */
export const putNode = (node, one, place) => {
  attribute(node.drawing, "transform", `translate(${Math.round(place.x)} ${Math.round(place.y)})`);
  attribute(node.wire, "d", place.wire);
  attribute(node.hair, "d", place.hair);
  if (place.box) {
    standAt(node.element, place.x, place.y - 20);
    sizeTo(node.element, place.width, 40);
  } else if (one.role === "cable") reachOf(node, place);
  if (node.gap) {
    node.gap.hidden = !place.plus;
    if (place.plus) standAt(node.gap, place.x + place.plus.x - 12, place.y + place.plus.y - 12);
  }
  if (node.ring) {
    node.ring.hidden = !place.ring;
    if (place.ring) standAt(node.ring, place.x + place.ring.x - 12, place.y + place.ring.y - (one.role === "tap" ? 12 : 6));
  }
  node.label.hidden = !place.label;
  if (place.label) {
    write(node.label, one.labels[place.label.which] ?? "");
    standAt(node.label, place.x + place.label.x, place.y + place.label.y);
  }
};

/** @type {WeakMap<Shown, Map<string, Drawn>>} */
const drawnStates = new WeakMap();

/**
 * How everything is drawn in the state shown; asked once, for the line and the strip.
 * @param {Shown} shown
 * @returns {Map<string, Drawn>}
 */
export const drawnIn = (shown) => {
  const known = drawnStates.get(shown) ?? shown.model.line(shown.on);
  drawnStates.set(shown, known);
  return known;
};

/**
 * The classes of how something is drawn.
 * @param {Drawn|undefined} drawn
 */
export const looksOf = (drawn) => {
  if (!drawn) return "cool";
  if (!drawn.heard) return "out";
  return drawn.hot ? "hot" : drawn.weak > 0 ? "weak" : "cool";
};

/**
 * How the instrument or an end is drawn: as what comes before it.
 * @param {Worded} one
 * @param {Shown} shown
 * @param {Map<string, Drawn>} drawn
 */
export const endLooks = (one, { data, on }, drawn) => {
  let item = one.after, heard = true, hot = !data.active;
  while (item) {
    const how = drawn.get(item.key);
    heard = how?.heard ?? true;
    hot = Boolean(how?.hot) && !how?.isolates;
    const inside = item.kind === "loop" && (item.s === undefined || on.has(item.s)) ? item.inside ?? [] : [];
    item = inside[inside.length - 1] ?? null;
  }
  return looksOf({ heard, hot, isolates: false, weak: 0 });
};

/**
 * How a thing is drawn in this state.
 * @typedef {object} Looks
 * @property {string} stroke
 * @property {boolean} isolates
 * @property {boolean} chosen
 * @property {boolean} folded
 */

/** @param {string} sort
 * @param {Looks} looks */
const classes = (sort, looks) => [
  sort, looks.stroke, looks.isolates && "isolates", looks.chosen && "chosen", looks.folded && "folded",
].filter(Boolean).join(" ");

/**
 * What a listener is told of a thing that is no plain button.
 * @param {LineNode} node
 * @param {Worded} one
 * @param {Offered} offered
 */
const sayRole = ({ element, sort }, { role, item, state, pressed }, offered) => {
  if (sort.endsWith("slider")) {
    const length = item?.length ?? 0;
    attribute(element, "aria-orientation", "vertical");
    attribute(element, "aria-valuemin", "0");
    attribute(element, "aria-valuemax", String(Math.max(100, Math.ceil(length))));
    attribute(element, "aria-valuenow", String(length));
    attribute(element, "aria-valuetext", item?.lengthText ?? "");
  }
  const pressable = role === "end" ? offered.listens && state !== "" : role === "box" && offered.live && item?.s !== undefined;
  attribute(element, "aria-pressed", pressable ? String(pressed) : null);
};

/**
 * Say a thing in its words.
 * @param {LineNode} node
 * @param {Worded} one
 * @param {Looks} looks
 * @param {Offered} offered
 */
export const sayNode = (node, one, looks, offered) => {
  const { element } = node;
  attribute(node.drawing, "class", classes(one.role, looks));
  if (node.ring) attribute(node.ring, "class", classes("ring", looks));
  if (one.role === "joint") return;
  attribute(element, "class", classes(one.small ? `${one.role} small` : one.role, looks));
  if (one.role !== "cable") {
    write(element.children[0], one.name);
    write(element.children[1], one.state);
  }
  const hangs = one.role === "tap" ? one.labels[0] : "";
  attribute(element, "aria-label", [one.name, one.state, hangs].filter(Boolean).join(" "));
  sayRole(node, one, offered);
};
