/* Complex numbers at all frequencies at once, and the steps of a chain.

   A source is written as p = 1/E and q = Z/E. A step makes p' = a p + c q and q' = b p + d q, and the
   response is 1/H = p + q Y. See sigsim/decide/page/coefficients.py. */

/** @import { BoardData } from "./types.js" */

/** @typedef {{re: Float64Array, im: Float64Array}} Column */
/** @typedef {{p: Column, q: Column, by: Column|null}} Source1 `by` is a factor to take out again */
/** @typedef {{a: Column, b: Column, c: Column, d: Column, idle: boolean}} Step1 */

/**
 * @param {number} size
 * @returns {Column}
 */
export const blankColumn = (size) => ({ re: new Float64Array(size), im: new Float64Array(size) });

/**
 * @param {Column} x
 * @returns {Column}
 */
export const copyColumn = (x) => ({ re: x.re.slice(), im: x.im.slice() });

/**
 * @param {Column} x
 * @param {Column} y
 * @param {number} [from] where it begins; before it nothing is told
 * @returns {Column}
 */
export const productColumn = (x, y, from = 0) => {
  const size = x.re.length, z = blankColumn(size);
  for (let i = from; i < size; i += 1) {
    z.re[i] = x.re[i] * y.re[i] - x.im[i] * y.im[i];
    z.im[i] = x.re[i] * y.im[i] + x.im[i] * y.re[i];
  }
  return z;
};

/**
 * x z + y w
 * @param {Column} x
 * @param {Column} z
 * @param {Column} y
 * @param {Column} w
 * @param {number} [from]
 * @returns {Column}
 */
export const joinColumns = (x, z, y, w, from = 0) => {
  const size = x.re.length, sum = blankColumn(size);
  for (let i = from; i < size; i += 1) {
    sum.re[i] = x.re[i] * z.re[i] - x.im[i] * z.im[i] + (y.re[i] * w.re[i] - y.im[i] * w.im[i]);
    sum.im[i] = x.re[i] * z.im[i] + x.im[i] * z.re[i] + (y.re[i] * w.im[i] + y.im[i] * w.re[i]);
  }
  return sum;
};

/**
 * Send a source through a step, in its place.
 * @param {Source1} source
 * @param {Step1} step
 * @param {number} [from]
 */
export const sendThrough = ({ p, q }, { a, b, c, d, idle }, from = 0) => {
  if (idle) return;
  const size = p.re.length;
  for (let i = from; i < size; i += 1) {
    const pr = p.re[i], pi = p.im[i], qr = q.re[i], qi = q.im[i];
    p.re[i] = a.re[i] * pr - a.im[i] * pi + (c.re[i] * qr - c.im[i] * qi);
    p.im[i] = a.re[i] * pi + a.im[i] * pr + (c.re[i] * qi + c.im[i] * qr);
    q.re[i] = b.re[i] * pr - b.im[i] * pi + (d.re[i] * qr - d.im[i] * qi);
    q.im[i] = b.re[i] * pi + b.im[i] * pr + (d.re[i] * qi + d.im[i] * qr);
  }
};

/**
 * Hang a load, the fraction up/low [S], on a source, in its place.
 * @param {Source1} source
 * @param {{up: Column, low: Column}} load
 * @param {number} [from]
 */
export const hangOn = (source, { up, low }, from = 0) => {
  const { p, q, by } = source;
  source.p = joinColumns(low, p, up, q, from);
  source.q = productColumn(low, q, from);
  source.by = by ? productColumn(low, by, from) : copyColumn(low);
};

/* What one answer has decoded, the next one mostly has again: nobody changes a column of a board. */
/** @type {Map<string, Column>} */
let decodedBefore = new Map();
/** @type {Map<string, Column>} */
let decodedNow = new Map();
const mostDecoded = 600;

/**
 * @param {string} text
 * @param {number} size
 * @returns {Column}
 */
const decodeColumn = (text, size) => {
  const raw = atob(text), bytes = new Uint8Array(raw.length);
  for (let i = 0; i < raw.length; i += 1) bytes[i] = raw.charCodeAt(i);
  const both = new Float64Array(bytes.buffer), made = blankColumn(size);
  if (both.length === size + 1) { // one real part for all
    made.re.fill(both[0]);
    made.im.set(both.subarray(1));
    return made;
  }
  for (let i = 0; i < size; i += 1) {
    made.re[i] = both[2 * i];
    made.im[i] = both[2 * i + 1];
  }
  return made;
};

/**
 * @param {string} text
 * @param {number} size
 * @returns {Column}
 */
const decodedOnce = (text, size) => {
  const column = decodedNow.get(text) ?? decodedBefore.get(text) ?? decodeColumn(text, size);
  if (decodedNow.size >= mostDecoded) [decodedBefore, decodedNow] = [decodedNow, new Map()];
  decodedNow.set(text, column);
  return column;
};

/**
 * The arrays of a board.
 * @param {BoardData} data
 */
export const columnsOf = (data) => {
  const { size } = data;
  /** @type {Map<number|string, Column>} */
  const known = new Map();
  /** @param {number|number[]} value a number in the pool, or a constant
   * @returns {Column} */
  const column = (value) => {
    const key = typeof value === "number" ? value : `${value[0]} ${value[1]}`;
    const old = known.get(key);
    if (old) return old;
    const made = typeof value === "number" ? decodedOnce(data.pool[value], size)
      : { re: new Float64Array(size).fill(value[0]), im: new Float64Array(size).fill(value[1]) };
    known.set(key, made);
    return made;
  };
  /** @param {number|number[]} value
   * @param {number} wanted */
  const is = (value, wanted) => typeof value !== "number" && value[0] === wanted && value[1] === 0;
  /** @type {Step1[]} */
  const steps = (data.steps ?? []).map(([a, b, c, d]) => ({
    a: column(a), b: column(b), c: column(c), d: column(d),
    idle: is(a, 1) && is(b, 0) && is(c, 0) && is(d, 1),
  }));
  return { column, steps };
};

/** @typedef {ReturnType<typeof columnsOf>} Columns */
