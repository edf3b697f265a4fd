/* What the signal meets in a state, and what a split is to the way that it leaves. */

/** @import { BoardData, Item } from "./types.js" */
/** @import { Column, Columns, Source1 } from "./complex.js" */

import { copyColumn, hangOn, joinColumns, productColumn, sendThrough } from "./complex.js";

/** @typedef {{item: Item, on: boolean}} Met1 an item that is met, and whether it is on */

/**
 * Each item that the signal meets with whether it is on; a loop that is in gives way to what is in it.
 * @param {Item[]} items
 * @param {Set<number>} on
 * @param {Met1[]} found
 * @returns {Met1[]}
 */
export const metBy = (items, on, found = []) => {
  items.forEach((item) => {
    if (item.kind === "joint") return;
    const isOn = item.s === undefined || on.has(item.s);
    if (item.kind === "loop" && isOn) metBy(item.inside ?? [], on, found);
    else found.push({ item, on: item.kind !== "loop" && isOn });
  });
  return found;
};

/**
 * The admittance that ends a run at an item, undefined where the item does not isolate.
 * @param {Met1} met
 */
export const inputOf = ({ item, on }) => (
  item.kind === "split" ? undefined : on ? item.yon : item.yoff);

/**
 * @param {Met1} met
 */
export const isolatesIn = (met) => inputOf(met) !== undefined;

/**
 * Whether the ideal reference has what is met.
 * @param {Met1} met
 * @param {boolean} bare without the lead
 */
export const inReference = ({ item, on }, bare) => (
  Boolean(on ? item.ion : item.ioff) && !(bare && Boolean(item.lead)));

/**
 * @param {BoardData} data
 * @param {Columns} columns
 */
export const pathsOf = (data, { column, steps }) => {
  /** @param {Met1} met */
  const stepOf = ({ item, on }) => steps[/** @type {number} */ (on ? item.on : item.off)];

  /** The load that a split is, as the fraction up/low [S]: all as far as its first isolator.
   * @param {Item} split
   * @param {Set<number>} on
   * @param {number} from
   * @returns {{up: Column, low: Column}} */
  const branch = (split, on, from) => {
    const found = metBy(split.inside ?? [], on);
    const isolator = found.findIndex(isolatesIn);
    const run = isolator < 0 ? found : found.slice(0, isolator);
    const end = isolator < 0 ? split.yon : inputOf(found[isolator]);
    let up = column(/** @type {number|number[]} */ (end)), low = column([1, 0]);
    run.reverse().forEach((met) => {
      if (met.item.kind === "split") {
        const own = branch(met.item, on, from);
        up = joinColumns(own.up, low, own.low, up, from);
        low = productColumn(own.low, low, from);
      } else {
        const { a, b, c, d } = stepOf(met);
        [up, low] = [joinColumns(c, low, d, up, from), joinColumns(a, low, b, up, from)];
      }
    });
    return { up, low };
  };

  /** Send a source through what is met.
   * @param {Source1} source changed
   * @param {Met1[]} met
   * @param {Set<number>} on
   * @param {number} [from] where it begins, of the frequencies */
  const follow = (source, met, on, from = 0) => {
    met.forEach((one) => {
      if (one.item.kind === "split") hangOn(source, branch(one.item, on, from), from);
      else sendThrough(source, stepOf(one), from);
    });
    return source;
  };

  /** The source with 1 V before an isolator, or the instrument.
   * @param {Met1|null} begin
   * @returns {Source1} */
  const startOf = (begin) => {
    const [p, q] = begin ? [stepOf(begin).a, stepOf(begin).b] : (data.start ?? []).map(column);
    return { p: copyColumn(p), q: copyColumn(q), by: null };
  };

  /** 1/H behind a source, at the input of an isolator or at the end.
   * @param {Source1} source
   * @param {Met1|null} end
   * @returns {Column} */
  const endAt = (source, end) => {
    const Y = end ? inputOf(end) : data.load;
    return joinColumns(source.q, column(/** @type {number|number[]} */ (Y)), source.p, column([1, 0]));
  };
  return { follow, startOf, endAt, steps };
};

/** @typedef {ReturnType<typeof pathsOf>} Paths */

/**
 * A run between two isolators; null for the instrument and for the end.
 * @typedef {{begin: Met1|null, run: Met1[], end: Met1|null}} Segment1
 */

/**
 * @param {Met1[]} met
 * @returns {Segment1[]}
 */
export const segmentsOf = (met) => {
  /** @type {Segment1[]} */
  const found = [];
  /** @type {Met1|null} */
  let begin = null;
  /** @type {Met1[]} */
  let run = [];
  met.forEach((one) => {
    if (isolatesIn(one)) {
      found.push({ begin, run, end: one });
      [begin, run] = [one, []];
    } else run.push(one);
  });
  return [...found, { begin, run, end: null }];
};
