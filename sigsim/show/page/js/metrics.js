/* The numbers of a response: gains, corner, resonance, treble loss, as sigsim/metrics.py finds them. */

/** @import { BoardData, Response1 } from "./types.js" */
/** @import { Column } from "./complex.js" */

/** @typedef {{first: number, weights: number[]}} Stencil */

/**
 * |1/H| to dB of H; what is not finite is silence.
 * @param {number} re
 * @param {number} im
 */
const gainOf = (re, im) => {
  const magnitude = re * re + im * im;
  // Beyond what a square can hold.
  if (!(magnitude > 1e-280 && magnitude < 1e280)) {
    const exact = Math.hypot(re, im);
    return Number.isFinite(exact) ? -20 * Math.log10(exact) : -Infinity;
  }
  return -10 * Math.log10(magnitude);
};

/**
 * The gain at every array's frequencies [dB].
 * @param {Column} N
 * @param {Column|null} by the factor to take out; null for none
 * @param {number} [from] where it begins, of the frequencies
 */
export const gainsOf = (N, by, from = 0) => {
  const made = new Float64Array(N.re.length);
  for (let i = from; i < made.length; i += 1) {
    made[i] = gainOf(N.re[i], N.im[i]) - (by ? gainOf(by.re[i], by.im[i]) : 0);
  }
  return made;
};

/**
 * Loss over a treble band, less that at 100 Hz.
 * @param {BoardData["exact"]} exact
 * @param {ArrayLike<number>} loss
 */
export const trebleOf = (exact, loss) => (
  exact.treble.reduce((t, i) => t + loss[i], 0) / exact.treble.length - loss[exact.level]);

/* Every answer has the same grid: its stencils are made once. */
/** @type {Map<string, Stencil[]>} */
const stencilsKnown = new Map();
const mostGrids = 8;

/**
 * @param {string} key what they depend on
 * @param {() => Stencil[]} made
 */
const stencilsOnce = (key, made) => {
  const found = stencilsKnown.get(key) ?? made();
  if (stencilsKnown.size >= mostGrids) stencilsKnown.clear();
  stencilsKnown.set(key, found);
  return found;
};

/**
 * How a response is read between the points of the grid, and searched.
 * @param {BoardData} data
 * @param {Column} one the factor that is none
 */
export const metricsOf = (data, one) => {
  const { points, low } = data;
  const { search, halfPower, leastResonance, silent } = data.metrics;
  const step = Math.log(data.high / low) / (points - 1);
  const zooms = 5, zoomPoints = 17, nodes = 8;
  const binomial = [1, -7, 21, -35, 35, -21, 7, -1];

  /** 1/H is a polynomial through eight points.
   * @param {number} f [Hz]
   * @returns {Stencil} */
  const stencil = (f) => {
    const t = Math.log(f / low) / step;
    const first = Math.min(Math.max(Math.floor(t) - 3, 0), points - nodes);
    const near = Math.round(t);
    if (Math.abs(t - near) < 1e-9) return { first: near, weights: [1] };
    const raw = binomial.map((b, j) => b / (t - first - j));
    const total = raw.reduce((x, y) => x + y, 0);
    return { first, weights: raw.map((w) => w / total) };
  };
  /** @param {Column} values
   * @param {Stencil} stencil */
  const between = (values, { first, weights }) => {
    let re = 0, im = 0;
    for (let j = 0; j < weights.length; j += 1) {
      re += weights[j] * values.re[first + j];
      im += weights[j] * values.im[first + j];
    }
    return gainOf(re, im);
  };
  /** The gain between the points [dB].
   * @param {Response1} N
   * @param {Stencil} s */
  const read = (N, s) => between(N, s) - (N.by === one ? 0 : between(N.by, s));

  const grid = `${low} ${data.high} ${points}`;
  /** Stencils that are asked for again and again.
   * @param {number[]} frequencies [Hz] */
  const stencils = (frequencies) => {
    const last = frequencies[frequencies.length - 1];
    return stencilsOnce(`${grid} ${frequencies.length} ${frequencies[0]} ${frequencies[1]} ${last}`, () => frequencies.map(stencil));
  };
  /** @param {number} level */
  const sounds = (level) => level > silent && level < Infinity;
  /** @param {Response1} N
   * @param {number} level
   * @param {Stencil[]} stencils */
  const over = (N, level, stencils) => (
    stencils.map((s) => (sounds(level) ? read(N, s) - level : -Infinity)));
  /** @param {number} from
   * @param {number} to */
  const spread = (from, to) => (
    Array.from({ length: zoomPoints }, (_, i) => from + (to - from) * i / (zoomPoints - 1)));

  /** @param {Response1} N
   * @param {number} level
   * @param {number[]} height over the level, where it is searched
   * @returns {number|null} [Hz] */
  const corner = (N, level, height) => {
    let f = search;
    for (let zoom = 0; ; zoom += 1) {
      let i = -1;
      height.forEach((h, j) => { if (h + halfPower > 0) i = j; });
      if (i < 0 || i === f.length - 1) return null;
      if (zoom === zooms - 1) {
        const high = height[i] + halfPower, under = height[i + 1] + halfPower;
        return f[i] + (high / (high - under)) * (f[i + 1] - f[i]);
      }
      f = spread(f[i], f[i + 1]);
      height = over(N, level, f.map(stencil));
    }
  };
  /** @param {number[]} height */
  const highest = (height) => height.reduce((best, h, j) => (h > height[best] ? j : best), 0);
  /** @param {Response1} N
   * @param {number} level
   * @param {number[]} height over the level, where it is searched
   * @returns {{frequency: number, height: number}|null} */
  const resonance = (N, level, height) => {
    let f = search, i = -1;
    for (let j = 1; j < f.length - 1; j += 1) {
      const peak = height[j] > height[j - 1] && height[j] >= height[j + 1] && height[j] > 0;
      if (peak && (i < 0 || height[j] > height[i])) i = j;
    }
    if (i < 0) return null;
    for (let zoom = 0; zoom < zooms; zoom += 1) {
      f = spread(f[Math.max(i - 1, 0)], f[Math.min(i + 1, f.length - 1)]);
      height = over(N, level, f.map(stencil));
      i = highest(height);
    }
    return height[i] >= leastResonance
      ? { frequency: f[i], height: Math.min(height[i], -silent) } : null;
  };
  /** Corner and resonance.
   * @param {Response1} N
   * @param {number} level */
  const shape = (N, level) => {
    const height = over(N, level, stencils(search));
    return {
      get corner() { return corner(N, level, height); },
      get resonance() { return resonance(N, level, height); },
    };
  };
  return { stencil, stencils, read, sounds, shape };
};
