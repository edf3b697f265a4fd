/* The curves as numbers: what hangs from the zero line, and the text of their paths. */

/** @import { Model, Response1 } from "./types.js" */
/** @import { Shown, View } from "./store.js" */

/**
 * A curve that is drawn.
 * @typedef {object} Trace
 * @property {"none"|"lead"|"saved"|"pin"|"ghost"|"now"} kind
 * @property {string} name at its right end
 * @property {ArrayLike<number>} values [dB] at the frequencies drawn
 * @property {(hertz: number) => number} at [dB]
 * @property {number} own how far its own zero line lies from that of now, at most [dB]
 */

/** @type {WeakMap<Response1, {values: number[], level: number}>} */
const curvesRead = new WeakMap();
const levelHertz = 100;

/** Each response is read once: those of pins and of the file stay the same.
 * @param {Model} model
 * @param {Response1} response */
const readCurve = (model, response) => {
  const old = curvesRead.get(response);
  if (old) return old;
  const found = { values: model.curve(response), level: model.at(response, levelHertz) };
  curvesRead.set(response, found);
  return found;
};

/**
 * A response as it is, at the frequencies drawn.
 * @param {Model} model
 * @param {Response1} response
 * @returns {number[]} [dB]
 */
export const drawnValues = (model, response) => readCurve(model, response).values;

/** @typedef {{model: Model, response: Response1}} Source */
/** @typedef {{kind: Trace["kind"], name: string, source: Source, zero: Response1}} Wanted */

/** One less the other, each less its value at 100 Hz.
 * @param {Source} source
 * @param {Source} zero
 * @returns {number[]} */
const hungFrom = (source, zero) => {
  const one = readCurve(source.model, source.response), base = readCurve(zero.model, zero.response);
  const level = one.level - base.level;
  return one.values.map((value, i) => value - base.values[i] - level);
};

/** @param {number[]} values */
const furthest = (values) => values.reduce((most, value) => (
  Number.isFinite(value) && Math.abs(value) > Math.abs(most) ? value : most), 0);

/** @param {View} view
 * @returns {Wanted[]} */
const wantedTraces = ({ shown, steady, saved, ghost, pins, held, answer, dragging }) => {
  const { model, found, data } = shown;
  /** @param {Wanted["kind"]} kind @param {string} name @param {Shown|{model: Model, found: Shown["found"]}} of
   * @returns {Wanted} */
  const now = (kind, name, of) => (
    { kind, name, source: { model: of.model, response: of.found.N }, zero: of.found.B });
  const lead = data.reference === "direct" ? "lead alone" : "its lead";
  const leading = data.reference !== "bare" && data.chain.some((item) => item.lead);
  return [
    { kind: "none", name: "no cable", source: { model, response: found.B }, zero: found.B },
    ...(leading ? [{ kind: /** @type {"lead"} */ ("lead"), name: lead,
      source: { model, response: found.R }, zero: found.B }] : []),
    ...pins.map((pin) => now("pin", pin.name, pin)),
    ...(saved && (answer?.unsaved || dragging) && !held ? [now("saved", "as saved", saved)] : []),
    ...(held ? [now("saved", "now", steady)] : []),
    ...(ghost ? [now("ghost", "if so", ghost)] : []),
    now("now", held ? "as saved" : "now", shown),
  ];
};

/**
 * What is drawn: hung from the zero line of now, or the responses themselves.
 * @param {View} view
 * @param {boolean} itself
 * @returns {Trace[]}
 */
export const traces = (view, itself) => {
  const { model, found } = view.shown;
  const zero = { model, response: found.B };
  return wantedTraces(view).map(({ kind, name, source, zero: own }) => ({
    kind, name,
    values: itself ? readCurve(source.model, source.response).values : hungFrom(source, zero),
    at: (hertz) => {
      const gain = source.model.at(source.response, hertz);
      if (itself) return gain;
      const level = readCurve(source.model, source.response).level - readCurve(model, found.B).level;
      return gain - model.at(found.B, hertz) - level;
    },
    own: own === found.B ? 0 : furthest(hungFrom({ model: source.model, response: own }, zero)),
  }));
};

/** Tenths of a pixel without the cost of toFixed.
 * @param {number} value */
const tenthPixel = (value) => Math.round(value * 10) / 10;

/**
 * The path through values, broken where nothing is heard.
 * @param {ArrayLike<number>} values [dB]
 * @param {string[]} xs
 * @param {(db: number) => number} y [px]
 * @returns {string}
 */
export const pathOf = (values, xs, y) => {
  let text = "", pen = "M";
  for (let i = 0; i < xs.length; i += 1) {
    if (Number.isFinite(values[i])) {
      text += `${pen}${xs[i]} ${tenthPixel(y(values[i]))}`;
      pen = "L";
    } else pen = "M";
  }
  return text;
};

/**
 * The area between two curves.
 * @param {ArrayLike<number>} one
 * @param {ArrayLike<number>} other
 * @param {string[]} xs
 * @param {(db: number) => number} y
 * @returns {string}
 */
export const areaOf = (one, other, xs, y) => {
  let there = "", back = "";
  for (let i = 0; i < xs.length; i += 1) {
    if (Number.isFinite(one[i]) && Number.isFinite(other[i])) {
      there += `${there ? "L" : "M"}${xs[i]} ${tenthPixel(y(one[i]))}`;
      back = `L${xs[i]} ${tenthPixel(y(other[i]))}${back}`;
    }
  }
  return there && `${there}${back}Z`;
};

/**
 * Heights of words at least so far apart, each as near to its own place as that allows.
 * @param {number[]} wanted [px] in any order
 * @param {number} top
 * @param {number} bottom
 * @param {number} apart
 * @returns {number[]} in the same order
 */
export const pushedApart = (wanted, top, bottom, apart) => {
  const order = wanted.map((_, i) => i).sort((a, b) => wanted[a] - wanted[b] || a - b);
  /* Words that touch move as one block, which lies where its words are nearest to their places. */
  /** @type {{sum: number, count: number, at: number}[]} */
  const blocks = [];
  order.forEach((index) => {
    let block = { sum: wanted[index], count: 1, at: wanted[index] };
    const settle = () => {
      const start = block.sum / block.count - (apart * (block.count - 1)) / 2;
      block.at = Math.max(top, Math.min(start, bottom - apart * (block.count - 1)));
    };
    settle();
    for (let last = blocks.at(-1); last && last.at + apart * last.count > block.at + 1e-9; last = blocks.at(-1)) {
      blocks.pop();
      block = { sum: last.sum + block.sum, count: last.count + block.count, at: 0 };
      settle();
    }
    blocks.push(block);
  });
  const heights = blocks.flatMap(({ at, count }) => Array.from({ length: count }, (_, i) => at + apart * i));
  const found = wanted.slice();
  order.forEach((index, place) => { found[index] = heights[place]; });
  return found;
};
