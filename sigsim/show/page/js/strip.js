/* The strip: the whole way in one straight bar to one scale. It says what hangs on the pickup. */

/** @import { Drawn, Item, Summary } from "./types.js" */
/** @import { Store } from "./store.js" */
/** @import { Hang } from "./hang.js" */
import { draw, make, write } from "./dom.js";
import { handWords } from "./gaps.js";
import { hangBelow } from "./hang.js";
import { attribute, drawnIn, looksOf } from "./nodes.js";
import { decibel, metres } from "./words.js";

/** Heights of the bar by how it is drawn [px]. */
const BAR = /** @type {Record<string, number>} */ ({ hot: 10, weak: 6, cool: 3, out: 3 });
/** From the middle of a bar to that of the one below it [px]. */
const BAR_ROW = 13;

/**
 * @typedef {object} Bar
 * @property {{from: number, length: number, look: string}[]} parts [m]
 * @property {number[]} ticks [m]
 * @property {{at: number, bar: Bar}[]} below
 * @property {number} length [m]
 */

/**
 * @param {Item[]} items
 * @param {Set<number>} on
 * @param {Map<string, Drawn>} drawn
 * @param {Bar} bar
 * @returns {Bar}
 */
const barOf = (items, on, drawn, bar = { parts: [], ticks: [], below: [], length: 0 }) => {
  items.forEach((item) => {
    const length = item.length ?? 0, look = looksOf(drawn.get(item.key));
    if (item.kind === "cable") {
      const last = bar.parts[bar.parts.length - 1];
      if (last?.look === look) last.length += length;
      else bar.parts.push({ from: bar.length, length, look });
      bar.length += length;
    } else if (item.kind === "tap") {
      bar.below.push({ at: bar.length, bar: { parts: [{ from: 0, length, look }], ticks: [], below: [], length } });
    } else if (item.kind === "split") {
      bar.below.push({ at: bar.length, bar: barOf(item.inside ?? [], on, drawn) });
    } else if (item.kind !== "joint") {
      bar.ticks.push(bar.length);
      if (item.inside && (item.s === undefined || on.has(item.s))) barOf(item.inside, on, drawn, bar);
    }
  });
  return bar;
};

/** @typedef {{tag: "rect"|"path", attributes: Record<string, string|number>}} Shape */

/**
 * @param {Bar} bar
 * @param {number} x where it begins [px]
 * @param {number} y its middle [px]
 * @param {number} scale [px/m]
 * @param {number} width of all [px]
 * @param {Shape[]} shapes
 * @returns {number} the lowest edge
 */
const drawBar = (bar, x, y, scale, width, shapes) => {
  bar.parts.forEach(({ from, length, look }) => {
    const left = x + from * scale, height = BAR[look];
    const attributes = { class: look, x: left, y: y - height / 2, width: Math.max(0, Math.min(length * scale, width - left)), height };
    shapes.push({ tag: "rect", attributes });
  });
  bar.ticks.forEach((tick) => shapes.push({
    tag: "rect", attributes: { class: "tick", x: x + tick * scale - 0.75, y: y - 5, width: 1.5, height: 10 } }));
  const hangs = bar.below.map(({ at, bar: under }) => {
    const drop = Math.min(Math.max(x + at * scale, 0.5), width - 0.5);
    const long = Math.min(under.length * scale, width), left = Math.max(0, Math.min(drop, width - long));
    /** @type {Shape[]} */
    const trial = [];
    const height = drawBar(under, left, 0, scale, width, trial) + BAR_ROW / 2;
    /** @type {Hang} */
    const hang = {
      drop, left, right: left + long, height,
      put: (top) => {
        shapes.push({ tag: "path", attributes: { class: "drop", d: `M${drop} ${y + 5}V${top + BAR_ROW / 2}` } });
        drawBar(under, left, top + BAR_ROW / 2, scale, width, shapes);
      },
    };
    return hang;
  });
  return hangBelow(hangs, y + BAR_ROW / 2, 2);
};

/** @param {SVGElement} svg
 * @param {Shape[]} shapes */
const reshape = (svg, shapes) => {
  shapes.forEach(({ tag, attributes }, i) => {
    let child = svg.children[i];
    if (child?.tagName !== tag) {
      const made = draw(tag);
      if (child) child.replaceWith(made); else svg.append(made);
      child = made;
    }
    const shape = child;
    Object.entries(attributes).forEach(([name, value]) => attribute(shape, name, String(value)));
  });
  while (svg.children.length > shapes.length) svg.lastChild?.remove();
};

/** @param {number} count */
const boxesText = (count) => `${count} ${count === 1 ? "box" : "boxes"}`;

/**
 * What hangs on the pickup: "5.5 m and 3 boxes".
 * @param {Summary} summary
 */
const onPickup = ({ onPickup: length, boxes }) => {
  if (!length && !boxes) return "nothing";
  return [length ? metres(length) : "", boxes ? boxesText(boxes) : ""].filter(Boolean).join(" and ");
};

/**
 * The words above the strip.
 * @param {Summary} summary
 * @returns {{before: string, pickup: string, after: string}}
 */
export const stripWords = (summary) => {
  const beside = summary.beside ? ` and ${metres(summary.beside)} beside it` : "";
  const weak = summary.weak.map(({ name, db }) => ` ${name} drives what follows weakly: ${decibel(db)} dB lost there.`);
  return { before: `${metres(summary.wire)} of wire${beside}. On the pickup: `, pickup: onPickup(summary), after: `.${weak.join("")}` };
};

/**
 * @param {Store} store
 * @param {HTMLElement} holder of the strip
 * @param {HTMLElement} [above] of the words over it; the same where none is given
 */
export const stripView = (store, holder, above = holder) => {
  const before = make("span"), pickup = make("strong", { class: "pickup" }), after = make("span", { dir: "auto" });
  const bar = make("span", { class: "bar" }), said = make("span");
  const scaled = make("p", { class: "scale", "aria-hidden": "true" }, bar, said);
  above.append(make("div", { class: "stripwords" }, make("h2", {}, "The line"), make("p", {}, before, pickup, after), scaled));
  const svg = draw("svg", { class: "strip", role: "img" });
  holder.append(svg);
  let width = 0;

  const redraw = () => {
    const { shown, ghost, hand } = store.view();
    const summary = shown.model.summary(shown.on), words = stripWords(summary);
    write(before, hand ? handWords(hand, shown.found.treble) : words.before);
    write(pickup, hand ? "" : words.pickup);
    write(after, hand ? "" : words.after);
    pickup.classList.toggle("none", !summary.onPickup && !summary.boxes);
    attribute(svg, "aria-label", `${words.before}${words.pickup}${words.after}`);
    if (!width) return;
    const whole = barOf(shown.data.chain, shown.on, drawnIn(shown));
    const scale = whole.length > 0 ? width / whole.length : 0;
    /** @type {Shape[]} */
    const shapes = [];
    const low = drawBar(whole, 0, 8, scale, width, shapes);
    if (ghost) {
      const end = Math.min(ghost.model.summary(ghost.on).onPickup * scale, width - 1);
      shapes.push({ tag: "path", attributes: { class: "ghost", d: `M0 15H${end}V-1` } });
    }
    const height = Math.ceil(Math.max(low, 17));
    attribute(svg, "width", String(width));
    attribute(svg, "height", String(height));
    reshape(svg, shapes);
  };

  store.subscribe((view, old) => {
    if (view.shown !== old.shown || view.ghost !== old.ghost || view.hand !== old.hand) redraw();
  });
  document.addEventListener("linescale", (event) => {
    const { scale, phone } = /** @type {CustomEvent} */ (event).detail;
    bar.style.width = `${phone ? scale / 5 : scale}px`;
    write(said, phone ? "20 cm" : "1 m");
  });
  const resized = () => {
    if (Math.floor(holder.clientWidth) === width) return;
    width = Math.floor(holder.clientWidth);
    redraw();
  };
  new ResizeObserver(resized).observe(holder);
  window.addEventListener("resize", resized);
  resized();
  return { element: holder };
};
