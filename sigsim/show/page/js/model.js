/* The model of the page: any state of a board from the coefficients that Python gave, and its
   numbers. Searches and words are those of sigsim/metrics.py. */

/** @import { BoardData, Found, Item, Model, Named, Response1 } from "./types.js" */
/** @import { Met1 } from "./path.js" */

import { columnsOf, copyColumn, productColumn, sendThrough } from "./complex.js";
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
 * @param {BoardData} data
 * @returns {Model}
 */
export const createModel = (data) => {
  const columns = columnsOf(data), paths = pathsOf(data, columns);
  const metrics = metricsOf(data), drawing = drawingOf(data, paths);
  const { column } = columns, factor = column(data.factor);
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
  /** All numbers of one response with its references.
   * @param {Response1} N
   * @param {Response1} R
   * @param {Response1} B
   * @param {Response1|null} D
   * @returns {Found} */
  const assess = (N, R, B, D) => {
    const [gain, wanted, bare] = [N, R, B].map(gainsOf);
    const loss = lost(gain, wanted), treble = trebleOf(exact, loss);
    const level = gain[exact.level], own = metrics.shape(N, level);
    const other = metrics.shape(R, wanted[exact.level]);
    return {
      N, R, B, level: -loss[exact.level], losses: exact.loss.map((i) => loss[i]),
      treble, withLead: trebleOf(exact, lost(gain, bare)),
      direct: D ? trebleOf(exact, lost(gain, gainsOf(D))) : NaN,
      word: wordOf(treble), corner: own.corner, resonance: own.resonance,
      referenceCorner: other.corner, referenceResonance: other.resonance,
      bareResonance: metrics.shape(B, bare[exact.level]).resonance,
    };
  };
  /** @param {Set<number>} on
   * @returns {Found} */
  const state = (on) => {
    const met = metBy(data.chain, on);
    /** @param {boolean} bare */
    const reference = (bare) => through(met.filter((one) => inReference(one, bare)), on);
    const R = data.reference === "direct" ? direct() : reference(data.reference === "bare");
    return assess(through(met, on), R, reference(true), direct());
  };
  /** @param {Named} named
   * @returns {Found} */
  const stored = ({ board, reference, bare, splits }) => {
    if (board === undefined || reference === undefined || bare === undefined) throw new Error("no curves are stored");
    const own = splits === undefined ? factor : productColumn(column(splits), factor);
    return assess(
      { ...copyColumn(column(board)), by: own }, { ...column(reference), by: factor },
      { ...column(bare), by: factor }, null);
  };

  const [left, right, many] = data.drawn;
  const drawn = Array.from({ length: many }, (_, i) => left * Math.pow(right / left, i / (many - 1)));
  const stencils = drawn.map(metrics.stencil);
  return {
    data, state, stored, drawn,
    curve: (N) => stencils.map((s) => metrics.read(N, s)),
    at: (N, f) => metrics.read(N, metrics.stencil(f)),
    heard: (on) => heardIn(data.chain, on, []).sort((x, y) => x - y).join(" "),
    line: drawing.line,
    summary: drawing.summary,
  };
};
