/* Curves that somebody else brings: other boards on a report, and bands of tolerances. */

/** @import { Response1 } from "./types.js" */
/** @import { View } from "./store.js" */
/** @import { Trace } from "./traces.js" */

/**
 * @typedef {object} Extra
 * @property {string} name
 * @property {(number|null)[]} [values] gain at the frequencies drawn [dB]; null is silence
 * @property {(number|null)[]} [low] of a band, likewise
 * @property {(number|null)[]} [high]
 */

/** Between the points of the grid by a straight line.
 * @param {ArrayLike<number>} values
 * @param {number[]} drawn
 * @param {number} hertz */
const valueAt = (values, drawn, hertz) => {
  const last = drawn.length - 1;
  const place = (last * Math.log(hertz / drawn[0])) / Math.log(drawn[last] / drawn[0]);
  const first = Math.min(Math.max(Math.floor(place), 0), last - 1);
  return values[first] + (values[first + 1] - values[first]) * (place - first);
};

/**
 * What was brought, hung from the zero line of now, or as it is.
 * @param {Extra[]} extras
 * @param {View} view
 * @param {boolean} itself
 * @param {(response: Response1) => ArrayLike<number>} read
 * @returns {{curves: Trace[], bands: {low: number[], high: number[]}[]}}
 */
export const broughtTraces = (extras, { shown }, itself, read) => {
  if (!extras.length) return { curves: [], bands: [] };
  const { drawn } = shown.model;
  const zero = itself ? null : read(shown.found.B);
  const own = read(shown.found.N);
  const heard = (/** @type {(number|null)[]} */ values) => values.map((value) => value ?? -Infinity);
  /** A band hangs as the curve does that it belongs to; another board by its own level at 100 Hz.
   * @param {(number|null)[]} values @param {ArrayLike<number>} [of] */
  const hang = (values, of) => {
    const found = heard(values);
    if (!zero) return found;
    const level = valueAt(of ?? found, drawn, 100) - valueAt(zero, drawn, 100);
    return found.map((value, i) => value - zero[i] - level);
  };
  /** @type {Trace[]} */
  const curves = extras.flatMap(({ name, values }) => {
    if (!values) return [];
    const hung = hang(values);
    return [{ kind: "pin", name, values: hung, at: (hertz) => valueAt(hung, drawn, hertz), own: 0 }];
  });
  const bands = extras.flatMap(({ low, high }) => (low && high ? [{ low: hang(low, own), high: hang(high, own) }] : []));
  return { curves, bands };
};
