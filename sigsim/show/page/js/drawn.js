/* How each thing on the line is drawn in a state, and what the strip says of it. */

/** @import { BoardData, Drawn, Item, Summary } from "./types.js" */
/** @import { Paths, Segment1 } from "./path.js" */

import { inReference, isolatesIn, metBy, segmentsOf } from "./path.js";
import { gainsOf, trebleOf } from "./metrics.js";

const COLD = { heard: true, hot: false, isolates: false, weak: 0 };

/**
 * @param {BoardData} data
 * @param {Paths} paths
 */
export const drawingOf = (data, paths) => {
  const bare = data.reference === "bare";
  /** The level at the end of a segment for 1 V at its begin [dB], at the exact points only.
   * @param {Segment1} segment
   * @param {Set<number>} on */
  const level = ({ begin, run, end }, on) => {
    const source = paths.follow(paths.startOf(begin), run, on, data.points);
    return gainsOf(paths.endAt(source, end), source.by, data.points);
  };
  /** @param {Segment1} segment */
  const stripped = ({ begin, run, end }) => (
    { begin, run: run.filter((met) => inReference(met, bare)), end });
  /** @param {Float64Array} x
   * @param {Float64Array} y */
  const less = (x, y) => x.map((value, i) => value - y[i]);

  /** What each segment loses by itself, over the treble less at 100 Hz [dB]. The terms of all of
   * them are the treble loss of the state: where the ideal has no isolator (off, with a buffered
   * bypass), the first segment of those that are one in it is measured against what is left.
   * @param {Segment1[]} segments
   * @param {Set<number>} on */
  const terms = (segments, on) => {
    /** @type {number[]} */
    const found = [];
    segments.forEach((segment, n) => {
      const { begin } = segment;
      if (begin && !inReference(begin, bare)) {
        found.push(trebleOf(data.exact, less(level(stripped(segment), on), level(segment, on))));
        return;
      }
      let last = n;
      while (segments[last].end && !inReference(/** @type {any} */ (segments[last].end), bare)) last += 1;
      const group = segments.slice(n, last + 1);
      const run = group.flatMap((one) => stripped(one).run);
      let wanted = level({ begin, run, end: segments[last].end }, on);
      group.slice(1).forEach((one) => { wanted = less(wanted, level(stripped(one), on)); });
      found.push(trebleOf(data.exact, less(wanted, level(segment, on))));
    });
    return found;
  };

  /** Each segment with what it loses where that is said, else 0; none on the pickup.
   * @param {Set<number>} on */
  const weighed = (on) => {
    const segments = segmentsOf(metBy(data.chain, on));
    const quiet = !data.live || (segments.length === 1 && !data.active);
    const found = quiet ? [] : terms(segments, on);
    return segments.map((segment, n) => {
      const said = (segment.begin || data.active) && found[n] >= data.weakSaid;
      return { segment, db: said ? found[n] : 0 };
    });
  };
  /* Line and strip ask for the same state one after the other. */
  let last = { of: "", found: /** @type {ReturnType<typeof weighed>} */ ([]) };
  /** @param {Set<number>} on */
  const weakSegments = (on) => {
    const of = [...on].sort((x, y) => x - y).join(" ");
    if (last.of !== of || !last.found.length) last = { of, found: weighed(on) };
    return last.found;
  };

  /** @param {Set<number>} on
   * @returns {Map<string, Drawn>} */
  const line = (on) => {
    const weak = weakSegments(on);
    let at = 0;
    /** @type {Map<string, Drawn>} */
    const found = new Map();
    /** @param {Item[]} items
     * @param {boolean} heard
     * @param {boolean} hot
     * @param {() => number} db
     * @param {() => void} pass an isolator
     * @returns {boolean} whether what follows is hot */
    const walk = (items, heard, hot, db, pass) => {
      items.forEach((item) => {
        const isOn = item.s === undefined || on.has(item.s);
        const isolates = item.kind !== "split" && isolatesIn({ item, on: isOn });
        const own = { heard, hot: heard && hot, isolates: heard && isolates, weak: heard ? db() : 0 };
        found.set(item.key, own);
        if (item.kind === "split") {
          /* Behind an isolator in it nothing is lost that is heard. */
          let before = true;
          walk(item.inside ?? [], heard, hot, () => (before ? db() : 0), () => { before = false; });
        } else if (item.kind === "loop") {
          hot = walk(item.inside ?? [], heard && isOn, hot, db, pass) && hot;
        }
        if (heard && isolates) {
          hot = false;
          pass();
        }
      });
      return hot;
    };
    walk(data.chain, true, !data.active, () => weak[at].db, () => { at += 1; });
    return found;
  };

  /** @param {Set<number>} on
   * @returns {Summary} */
  const summary = (on) => {
    const drawn = line(on);
    /** @type {Summary} */
    const made = { wire: 0, beside: 0, onPickup: 0, boxes: 0, weak: [] };
    /** @param {Item[]} items
     * @param {boolean} aside */
    const count = (items, aside) => items.forEach((item) => {
      const { heard, hot } = drawn.get(item.key) ?? COLD;
      if (!heard) return;
      const length = item.length ?? 0;
      if (aside || item.kind === "tap") made.beside += length;
      else {
        made.wire += length;
        if (hot) made.onPickup += length;
        if (hot && (item.kind === "box" || item.kind === "loop")) made.boxes += 1;
      }
      count(item.inside ?? [], aside || item.kind === "split");
    });
    count(data.chain, false);
    weakSegments(on).forEach(({ segment, db }) => {
      if (db) made.weak.push({ name: segment.begin ? segment.begin.item.name : data.instrument, db });
    });
    return made;
  };
  return { line, summary, terms };
};
