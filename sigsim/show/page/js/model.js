/* The model of the page: any state of a board from the coefficients that Python gave, and its
   numbers. Searches and words are those of sigsim/metrics.py. */

/** @import { BoardData, Found, Item, Model, Named, Response1 } from "./types.js" */
/** @import { Met1 } from "./path.js" */

import { columnsOf, productColumn, sendThrough } from "./complex.js";
import { inReference, metBy, pathsOf } from "./path.js";
import { gainsOf, metricsOf, trebleOf } from "./metrics.js";
import { drawingOf } from "./drawn.js";
import { tenth } from "./words.js";

/**
 * Names of switches that are heard: in no loop that is out.
 * @param {Item[]} items
 * @param {Set<number>} on
 * @param {number[]} found
 */
const heardIn = (items, on, found) => {
  items.forEach((item) => {
    const isOn = item.s === undefined || on.has(item.s);
    if (item.s !== undefined && isOn) found.push(item.s);
    if (item.kind === "split" || isOn) heardIn(item.inside ?? [], on, found);
  });
  return found;
};

/**
 * What is made when it is first asked for.
 * @template T
 * @param {() => T} make
 * @returns {() => T}
 */
const once = (make) => {
  /** @type {{value: T}|null} */
  let made = null;
  return () => (made ??= { value: make() }).value;
};

/**
 * @param {BoardData} data
 * @returns {Model}
 */
export const createModel = (data) => {
  const columns = columnsOf(data), paths = pathsOf(data, columns);
  const { column } = columns, factor = column(data.factor), one = column([1, 0]);
  const metrics = metricsOf(data, one), drawing = drawingOf(data, paths);
  const { exact } = data;

  /** @param {Met1[]} met
   * @param {Set<number>} on
   * @returns {Response1} */
  const through = (met, on) => {
    const source = paths.follow(paths.startOf(null), met, on);
    return { ...paths.endAt(source, null), by: source.by ? productColumn(source.by, factor) : factor };
  };
  /** The lead straight into the destination.
   * @type {Response1|null} */
  let straight = null;
  const direct = () => {
    if (straight) return straight;
    const source = paths.startOf(null);
    (data.direct ?? []).forEach((step) => sendThrough(source, paths.steps[step]));
    straight = { ...paths.endAt(source, null), by: factor };
    return straight;
  };

  /** @param {Response1} N */
  const gains = (N) => gainsOf(N, N.by === one ? null : N.by);
  /** @param {Float64Array} gain
   * @param {Float64Array} reference
   * @returns {Float64Array} not numbers where nothing comes out */
  const lost = (gain, reference) => {
    const heard = metrics.sounds(gain[exact.level]) && metrics.sounds(reference[exact.level]);
    return gain.map((g, i) => (heard ? reference[i] - g : NaN));
  };
  /** @param {number} treble */
  const wordOf = (treble) => {
    if (Number.isNaN(treble)) return "silent";
    const found = data.words.find(([limit]) => limit === null || tenth(treble) < limit);
    return found ? found[1] : "";
  };
  /** All numbers of one response with its references; what a button does not ask is not searched.
   * @param {Response1} N
   * @param {Response1} R
   * @param {() => Response1} bare
   * @param {() => (Response1|null)} straight
   * @returns {Found} */
  const assess = (N, R, bare, straight) => {
    const gain = gains(N), wanted = gains(R), loss = lost(gain, wanted);
    const treble = trebleOf(exact, loss), B = once(bare);
    const own = once(() => metrics.shape(N, gain[exact.level]));
    const other = once(() => metrics.shape(R, wanted[exact.level]));
    const unwired = once(() => gains(B()));
    const nothing = once(() => metrics.shape(B(), unwired()[exact.level]));
    const direct = once(() => {
      const D = straight();
      return D ? trebleOf(exact, lost(gain, gains(D))) : NaN;
    });
    return {
      N, R, level: -loss[exact.level], losses: exact.loss.map((i) => loss[i]),
      treble, word: wordOf(treble),
      get B() { return B(); },
      get withLead() { return trebleOf(exact, lost(gain, unwired())); },
      get direct() { return direct(); },
      get corner() { return own().corner; },
      get resonance() { return own().resonance; },
      get referenceCorner() { return other().corner; },
      get referenceResonance() { return other().resonance; },
      get bareResonance() { return nothing().resonance; },
    };
  };
  /** @param {Set<number>} on
   * @returns {Found} */
  const state = (on) => {
    const met = metBy(data.chain, on);
    /** @param {boolean} bare */
    const reference = (bare) => through(met.filter((one) => inReference(one, bare)), on);
    const R = data.reference === "direct" ? direct() : reference(data.reference === "bare");
    return assess(through(met, on), R, () => reference(true), direct);
  };
  /** @param {Named} named
   * @returns {Found} */
  const stored = ({ board, reference, bare, splits }) => {
    if (board === undefined || reference === undefined || bare === undefined) throw new Error("no curves are stored");
    const own = splits === undefined ? factor : productColumn(column(splits), factor);
    return assess(
      { ...column(board), by: own }, { ...column(reference), by: factor },
      () => ({ ...column(bare), by: factor }), () => null);
  };

  const [left, right, many] = data.drawn;
  const drawn = Array.from({ length: many }, (_, i) => left * Math.pow(right / left, i / (many - 1)));
  return {
    data, state, stored, drawn,
    curve: (N) => metrics.stencils(drawn).map((s) => metrics.read(N, s)),
    at: (N, f) => metrics.read(N, metrics.stencil(f)),
    heard: (on) => heardIn(data.chain, on, []).sort((x, y) => x - y).join(" "),
    line: drawing.line,
    summary: drawing.summary,
  };
};
