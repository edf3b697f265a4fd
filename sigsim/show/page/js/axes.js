/* The frame of the curve: scales, grid, the treble band and what stands at the axes. */

import { draw } from "./dom.js";

const leastHertz = 100;
const mostHertz = 20000;

/**
 * @typedef {object} Frame
 * @property {number} left
 * @property {number} right
 * @property {number} top
 * @property {number} bottom
 * @property {number} room for words at the right ends [px]
 * @property {number} low [dB]
 * @property {number} high [dB]
 * @property {boolean} itself
 * @property {boolean} small
 * @property {string[]} xs of the frequencies drawn [px]
 * @property {(hertz: number) => number} x
 * @property {(db: number) => number} y
 */

/**
 * @param {{width: number, height: number, low: number, high: number, itself: boolean, drawn: number[]}} given
 * @returns {Frame}
 */
export const axes = ({ width, height, low, high, itself, drawn }) => {
  const small = width < 480;
  const left = 30, top = 20, bottom = Math.max(height - 19, top + 20);
  const room = small ? 64 : 122;
  const right = Math.max(width - room - 8, left + 40);
  const x = (/** @type {number} */ hertz) => left + (right - left) * Math.log(hertz / leastHertz) / Math.log(mostHertz / leastHertz);
  const scale = (bottom - top) / (high - low);
  return {
    left, right, top, bottom, room, low, high, itself, small, x,
    y: (db) => top + (high - Math.max(Math.min(db, high + 60), low - 60)) * scale,
    xs: drawn.map((hertz) => String(Math.round(x(hertz) * 10) / 10)),
  };
};

/** @param {number} hertz
 * @returns {string} */
export const hertzText = (hertz) => (
  hertz < 1000 ? `${Math.round(hertz)} Hz` : `${(hertz / 1000).toFixed(hertz < 10000 ? 2 : 1)} kHz`);

/**
 * Where the peak is with the lead alone and where it is now.
 * @param {number|null} alone [Hz]
 * @param {number|null} now [Hz]
 * @returns {string} "" without any
 */
export const kilohertz = (alone, now) => {
  const text = (/** @type {number|null} */ hertz) => (hertz === null ? "none" : (hertz / 1000).toFixed(2));
  if (alone === null && now === null) return "";
  if (text(alone) === text(now)) return `peak ${text(now)} kHz`;
  return now === null ? `peak ${text(alone)} kHz → none` : `peak ${text(alone)} → ${text(now)} kHz`;
};

/** @param {Frame} frame
 * @returns {number} [dB] */
const stepOf = ({ low, high, top, bottom }) => {
  const fits = (/** @type {number} */ db) => (db * (bottom - top)) / (high - low) >= 22;
  return [6, 12, 18, 24].find(fits) ?? 24;
};

/**
 * Everything behind the curves, made anew where the scales change.
 * @param {SVGGElement} holder
 * @param {Frame} frame
 * @param {[number, number]} band [Hz]
 */
export const onScale = (holder, frame, band) => {
  const { left, right, top, bottom, low, high, x, y, small, itself } = frame;
  const inside = (/** @type {number} */ hertz) => Math.min(Math.max(hertz, leastHertz), mostHertz);
  const [from, to] = band.map((hertz) => x(inside(hertz)));
  const step = stepOf(frame);
  /** @type {SVGElement[]} */
  const made = [draw("rect", { class: "band", x: from, y: top, width: Math.max(to - from, 0), height: bottom - top })];
  for (let db = Math.ceil(low / step) * step; db <= high; db += step) {
    made.push(draw("path", { class: db === 0 && !itself ? "zero" : "grid", d: `M${left} ${y(db)}H${right}` }));
    if (db < high) {
      const down = Math.min(y(db) + 4, bottom + 1);
      made.push(draw("text", { x: left - 6, y: down, "text-anchor": "end" }, `${db < 0 ? "−" : ""}${Math.abs(db)}`));
    }
  }
  const every = [100, 200, 500, 1000, 2000, 5000, 10000, 20000];
  const ticks = small ? [100, 1000, 10000] : right - left > 600 ? every : every.filter((hertz) => hertz !== 200 && hertz !== 10000);
  ticks.forEach((hertz) => {
    const anchor = hertz === leastHertz ? "start" : hertz === mostHertz ? "end" : "middle";
    const text = hertz < 1000 ? `${hertz} Hz` : `${hertz / 1000} kHz`;
    made.push(draw("text", { x: x(hertz), y: bottom + 16, "text-anchor": anchor }, text));
  });
  made.push(draw("text", { x: left - 6, y: top - 8, "text-anchor": "end" }, "dB"));
  made.push(draw("text", { class: "treble", x: (from + to) / 2, y: top - 8, "text-anchor": "middle" }, "treble"));
  holder.replaceChildren(...made);
};
