/* What hangs below a row of the line: taps' stubs, and frames. */

/** @import { How, Laid, Place, Thing } from "./lay.js" */
import { foldChunks, pathNumber } from "./fold.js";

/** Half the height of a box [px]. */
export const HALF_BOX = 20;
/** What a line of words takes under a cable [px]. */
export const WORDS_BELOW = 15;
/** Where what hangs below a box begins, from the left edge of the box [px]. */
export const DROP_AT = 12;
/** The distance of rows of a stub that is broken [px]. */
const STUB_ROW = 46;

/**
 * Something below a row, whose place is found when the row is full.
 * @typedef {object} Hang
 * @property {number} drop where its hairline comes down
 * @property {number} left
 * @property {number} right
 * @property {number} height
 * @property {(y: number) => void} put
 */

/**
 * Move what was laid by itself to its place.
 * @param {Laid} laid
 * @param {number} dx
 * @param {number} dy
 * @param {Laid} into
 */
export const shiftLaid = (laid, dx, dy, into) => {
  [laid.places, laid.frames, laid.marks].forEach((list) => list.forEach((one) => {
    one.x += dx;
    one.y += dy;
  }));
  into.places.push(...laid.places);
  into.frames.push(...laid.frames);
  into.marks.push(...laid.marks);
};

/**
 * The stub of a tap, drawn from the tap's own origin.
 * @param {Thing} thing
 * @param {Place} place
 * @param {How} how
 * @param {number} most
 * @returns {Hang}
 */
export const stubBelow = (thing, place, how, most) => {
  const drop = place.x + DROP_AT, long = thing.length * how.scale, words = thing.labels[0] + 18;
  const cable = { ...thing, kind: /** @type {"cable"} */ ("cable"), plus: false };
  const rows = long <= most ? [] : foldChunks(cable, how, most, most);
  const widest = rows.length ? Math.max(...rows.map((row) => row.width)) : long;
  const beside = !rows.length && widest + words <= most;
  const left = Math.max(0, Math.min(drop, most - widest - (beside ? words : 0)));
  const below = beside ? 0 : WORDS_BELOW;
  return {
    drop, left, right: Math.max(left + widest + (beside ? words : 0), drop + 1),
    height: rows.length ? rows.length * STUB_ROW + below : 24 + below,
    put: (y) => {
      const x = left - place.x, middle = y + (rows.length ? 20 : 12) - place.y;
      const wires = rows.map((row, i) => row.wire(x, middle + STUB_ROW * i));
      place.wire = rows.length ? wires.join("") : `M${pathNumber(x)} ${pathNumber(middle)}h${pathNumber(long)}`;
      place.hair += `M${DROP_AT} ${HALF_BOX}V${pathNumber(middle)}H${pathNumber(x)}`;
      const end = rows.length ? x + rows[rows.length - 1].ring : x + long;
      const last = rows.length ? middle + STUB_ROW * (rows.length - 1) : middle;
      place.pieces = [{ x, y: middle, width: Math.max(widest, 24) }];
      if (thing.ring) place.ring = { x: end, y: last };
      const under = { x: Math.min(x + 2, most - place.x - words + 18), y: last + (rows.length ? 24 : 10), which: 0 };
      place.label = beside ? { x: end + 15, y: last - 8, which: 0 } : under;
    },
  };
};

/**
 * Put what hangs below a row where nothing of it overlaps: from the right, since all of it reaches
 * to the right of its hairline.
 * @param {Hang[]} hangs
 * @param {number} top
 * @returns {number} the lowest edge
 */
export const hangBelow = (hangs, top) => {
  /** @type {{left: number, right: number, bottom: number}[]} */
  const taken = [];
  [...hangs].reverse().forEach((hang) => {
    const left = Math.min(hang.left, hang.drop) - 8, right = Math.max(hang.right, hang.drop) + 8;
    const over = taken.filter((other) => other.left < right && left < other.right);
    const y = Math.max(top, ...over.map((other) => other.bottom));
    hang.put(y);
    taken.push({ left, right, bottom: y + hang.height });
  });
  return Math.max(top, ...taken.map((other) => other.bottom));
};
