/* The line: the way from the instrument to the amp, twice to length, large enough to touch. */

/** @import { Store, View } from "./store.js" */
/** @import { Laid, Place } from "./lay.js" */
/** @import { Worded } from "./things.js" */
/** @import { LineNode } from "./nodes.js" */
import { draw, make } from "./dom.js";
import { framesIn } from "./frames.js";
import { fitting, lay, narrow, scales } from "./lay.js";
import { gainingOffer, letterGap } from "./gaps.js";
import { attribute, drawnIn, endLooks, looksOf, nodeOf, putNode, sayNode, sortOf } from "./nodes.js";
import { inOrder, worded } from "./things.js";
import { reveal, ruler, walking } from "./walk.js";

/**
 * @typedef {object} LineOptions
 * @property {boolean} editable
 * @property {(key: string) => void} [onOpen]
 * @property {(key: string) => void} [onGap]
 * @property {(number: number) => void} [onToggle]
 * @property {(end: string) => void} [onEnd]
 * @property {(file: string) => void} [onBoard]
 * @property {() => number} [room] height in which the line should end [px]
 */

const LINE_KEYS = "Left and right arrow keys walk along it, Space switches a box, Enter opens what it is";

/**
 * @param {View} view
 * @param {View} before
 */
const lineConcerns = (view, before) => (
  view.shown !== before.shown || view.steady !== before.steady || view.hand !== before.hand
  || view.selected !== before.selected || view.dragging !== before.dragging);

/**
 * @param {View} view
 * @returns {Map<string, string>} lengths as the document has them
 */
const steadyLengths = (view) => {
  /** @type {Map<string, string>} */
  const found = new Map();
  const walk = (/** @type {import("./types.js").Item[]} */ items) => items.forEach((item) => {
    if (item.lengthText !== undefined) found.set(item.key, item.lengthText);
    walk(item.inside ?? []);
  });
  walk(view.steady.data.chain);
  return found;
};

/**
 * @param {Store} store
 * @param {HTMLElement} holder
 * @param {LineOptions} options
 */
export const lineView = (store, holder, options) => {
  const wires = draw("g", {}), frames = draw("g", {}), marks = draw("g", {});
  const around = framesIn(frames, marks, options.onBoard !== undefined);
  const svg = draw("svg", { class: "wires", "aria-hidden": "true" }, frames, wires, marks);
  const element = make("div", { class: "line", role: "toolbar", "aria-orientation": "horizontal" }, svg);
  holder.append(element);
  const measure = ruler(element, () => fit(true));
  /** @type {Map<string, LineNode>} */
  const nodes = new Map();
  /** @type {Worded[]} */
  let order = [];
  /** @type {Map<string, Place>} */
  let places = new Map();
  /** @type {{scale: number, shut: boolean, phone: boolean}|null} */
  let chosen = null;
  let width = 0;

  const offered = () => ({
    editable: options.editable, live: store.view().shown.data.live, listens: options.onEnd !== undefined,
  });

  /** @param {boolean} shut */
  const rowAt = (shut) => {
    const view = store.view(), { data, on } = view.shown;
    return worded({
      data, on, editable: options.editable, listens: options.onEnd !== undefined, shut, ruler: measure(),
      lengths: view.steady === view.shown ? new Map() : steadyLengths(view),
    });
  };

  /** @param {Worded[]} row
   * @param {number} scale
   * @returns {Laid} */
  const laidAt = (row, scale) => lay(row.map((one) => one.thing), width, {
    scale, phone: measure().phone, editable: options.editable });

  /* The scale only shrinks while the page is as it is: else every edit would shift all. Loops that
     are out are shut where they would make it smaller than it can be. */
  /** @param {boolean} anew */
  const choose = (anew) => {
    const phone = narrow(window.innerWidth), room = options.room?.()
      ?? window.innerHeight - element.getBoundingClientRect().top - window.scrollY;
    const from = scales(phone).filter((scale) => anew || !chosen || chosen.phone !== phone || scale <= chosen.scale);
    const least = from[from.length - 1];
    for (const shut of phone || (!anew && chosen?.shut) ? [true] : [false, true]) {
      const row = rowAt(shut);
      const scale = fitting(from, room, (at) => laidAt(row, at).height);
      if (shut || scale !== least || laidAt(row, scale).height <= room) return { scale, shut, phone };
    }
    return { scale: least, shut: true, phone };
  };

  /* In the order of the signal, moving all but what has the focus: it would lose it. */
  /** @param {Element[]} wanted */
  const arrange = (wanted) => {
    const now = [...element.children].filter((child) => child !== svg);
    if (now.length === wanted.length && now.every((child, i) => child === wanted[i])) return;
    const held = wanted.findIndex((child) => child.contains(document.activeElement));
    now.filter((child) => !wanted.includes(child)).forEach((child) => child.remove());
    if (held < 0) element.append(...wanted);
    else {
      wanted.slice(0, held).forEach((child) => wanted[held].before(child));
      element.append(...wanted.slice(held + 1));
    }
  };

  /** @param {Worded} one */
  const current = (one) => {
    const key = one.thing.key, old = nodes.get(key);
    if (old && old.sort === sortOf(one, offered())) return old;
    old?.drawing.remove();
    const node = nodeOf(one, offered());
    nodes.set(key, node);
    wires.append(node.drawing);
    return node;
  };

  const walk = walking(element, {
    keys: () => order.flatMap(({ thing: { key } }) => [
      ...(nodes.get(key)?.element.getAttribute("role") === "img" ? [] : [key]),
      ...(around.title(key)?.matches("button") ? [`board:${key}`] : [])]),
    at: (key) => nodes.get(key)?.element ?? around.title(key.replace(/^board:/u, "")),
    within: (key) => order.find((one) => inOrder(one.inside).some((other) => other.thing.key === key))?.thing.key ?? null,
  });

  const redraw = () => {
    if (!width || !chosen) return;
    const view = store.view(), row = rowAt(chosen.shut), laid = laidAt(row, chosen.scale);
    const drawn = drawnIn(view.shown), best = gainingOffer(view.hand, view.shown.found.treble);
    const focused = walk.held();
    order = inOrder(row);
    const keys = new Set(order.map((one) => one.thing.key));
    places = new Map(laid.places.map((place) => [place.key, place]));
    around.draw(laid, order);
    const wanted = order.flatMap((one) => {
      const node = current(one), key = one.thing.key, place = places.get(key), how = drawn.get(key);
      if (!place) return [];
      sayNode(node, one, {
        stroke: one.role === "end" ? endLooks(one, view.shown, drawn) : looksOf(how),
        isolates: Boolean(how?.isolates), chosen: view.selected === key, folded: place.folded,
      }, offered());
      putNode(node, one, place);
      if (node.gap) letterGap(node.gap, key, one.role === "joint" ? one.name : `in ${one.name}`, view.hand, best);
      const title = around.title(key);
      const more = [node.gap === node.element || !one.thing.plus ? null : node.gap, one.thing.ring ? node.ring : null, one.labels.length ? node.label : null, title];
      return [node.element, ...more.filter((part) => part instanceof HTMLElement)];
    });
    nodes.forEach((node, key) => {
      if (keys.has(key)) return;
      node.drawing.remove();
      nodes.delete(key);
    });
    arrange(wanted);
    const { data } = view.shown;
    attribute(element, "aria-label", `The line from ${data.instrument} to ${data.destination}. ${LINE_KEYS}`);
    const height = `${Math.ceil(laid.height)}px`;
    if (element.style.height !== height) element.style.height = height;
    walk.mend(focused, view.dragging);
  };

  /** @param {boolean} anew */
  const fit = (anew) => {
    if (!width) return;
    const before = chosen?.scale;
    chosen = choose(anew);
    redraw();
    const { scale, phone } = chosen;
    if (before !== scale) document.dispatchEvent(new CustomEvent("linescale", { detail: { scale, phone } }));
  };

  element.addEventListener("click", (event) => {
    const target = event.target instanceof Element ? event.target.closest("[data-key]") : null;
    const key = target?.getAttribute("data-key")?.replace(/^board:/u, ""), one = order.find((other) => other.thing.key === key);
    if (!target || !key || !one) return;
    if (target.classList.contains("gap")) return options.onGap?.(key);
    if (target.classList.contains("board")) return options.onBoard?.(one.item?.boardFile ?? "");
    if (one.role === "end" && one.state && !one.pressed) options.onEnd?.(one.end);
    if (one.role === "box" && one.item?.s !== undefined && offered().live) (options.onToggle ?? store.toggle)(one.item.s);
    if (one.role === "cable" || one.role === "tap") nodes.get(key)?.element.focus({ preventScroll: true });
    store.select(key);
  });
  element.addEventListener("keydown", (event) => {
    if (event.defaultPrevented || event.altKey || event.ctrlKey || event.metaKey) return;
    const target = event.target instanceof Element ? event.target : null;
    const key = target?.getAttribute("data-key");
    if (event.key === "Enter" && key && !target?.matches(".gap, .board")) {
      event.preventDefault();
      options.onOpen?.(key);
    } else if (event.key === " " && target?.matches(".cable, .tap")) event.preventDefault();
    else if (!store.view().hand && walk.step(event.key)) event.preventDefault();
  });
  store.subscribe((view, before) => {
    if (!lineConcerns(view, before)) return;
    const other = view.shown !== before.shown || view.steady !== before.steady;
    if (other && !view.dragging && !view.held) fit(false);
    else redraw();
  });
  /* Chosen anew for a new window; a scroll bar that comes and goes is none. */
  /** @param {boolean} anew */
  const resized = (anew) => {
    width = Math.floor(element.clientWidth);
    if (store.view().dragging) redraw();
    else fit(anew);
  };
  window.addEventListener("resize", () => resized(true));
  new ResizeObserver(() => {
    if (Math.floor(element.clientWidth) !== width) resized(false);
  }).observe(element);
  resized(true);
  /* Others hear of the scale when all of the page is built; by then it may have moved, too. */
  queueMicrotask(() => {
    chosen = null;
    fit(true);
  });

  /** @param {string} key */
  const gapOf = (key) => nodes.get(key)?.gap ?? null;
  return {
    element,
    /** Focus a thing, or its gap while a part is in hand.
     * @param {string} key */
    focus: (key) => {
      const gap = gapOf(key), target = store.view().hand && gap && !gap.hidden ? gap : nodes.get(key)?.element;
      target?.focus({ preventScroll: true });
      if (target) reveal(target);
    },
    gapOf,
    /** @param {EventTarget|null} target */
    keyOf: (target) => (target instanceof Element ? target.closest("[data-key]")?.getAttribute("data-key") ?? null : null),
    order: () => order.map((one) => one.thing.key),
    /** @param {string} key */
    ringOf: (key) => nodes.get(key)?.ring ?? null,
    /** The gap whose middle is nearest.
     * @param {number} x in the window [px]
     * @param {number} y
     * @returns {string|null} its key */
    gapAt: (x, y) => {
      const from = element.getBoundingClientRect();
      const far = (/** @type {Place} */ place) => Math.hypot(
        (place.plus?.x ?? 0) + place.x + from.left - x, place.y + from.top - y);
      const open = [...places.values()].filter((place) => place.plus);
      return open.length ? open.reduce((best, place) => (far(place) < far(best) ? place : best)).key : null;
    },
    /** @param {string} key
     * @returns {Place|null} where it stands, from the line's own corner */
    placeOf: (key) => places.get(key) ?? null,
    /** Choose the scale anew: what stands above it has changed. */
    refit: () => { if (!store.view().dragging) fit(true); },
    /** [px/m] */
    scale: () => chosen?.scale ?? 0,
  };
};

/** @typedef {ReturnType<typeof lineView>} Line */
