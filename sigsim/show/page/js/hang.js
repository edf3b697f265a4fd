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
 * @property {(y: number, side: Side|null) => void} put
 */

/**
 * The way of a hairline beside the frames of its row, where one stands right below its box.
 * @typedef {object} Side
 * @property {number} run height at which it leaves for the side
 * @property {number} at where it comes down
 */

/**
 * A hairline from the lower edge of a box to what hangs there.
 * @param {Place} place
 * @param {Side|null} side
 * @param {number} inner height at which it comes in from the side
 * @returns {string} the path as far as it is the same for all
 */
export const hairDown = (place, side, inner) => {
  const down = `M${DROP_AT} ${HALF_BOX}`;
  if (!side) return down;
  return `${down}V${pathNumber(side.run - place.y)}H${pathNumber(side.at - place.x)}V${pathNumber(inner - place.y)}`;
};

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
 * Where a stub and its words go: at the hairline with the words behind or before it, else as far
 * left as it must with the words below.
 * @param {number} drop
 * @param {number} wide
 * @param {number} words
 * @param {number} most
 */
const stubRoom = (drop, wide, words, most) => {
  const at = Math.min(drop, most - wide);
  if (at >= 0 && at + wide + words <= most) return { left: at, side: "behind" };
  if (at === drop && drop > words) return { left: at, side: "before" };
  return { left: Math.max(0, at), side: "below" };
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
  const rows = long <= most - 14 ? [] : foldChunks(cable, how, most, most);
  const wide = rows.length ? Math.max(...rows.map((row) => row.width)) : long;
  const { left, side } = stubRoom(drop, wide, words, most);
  const elbow = Math.abs(left - drop) > 0.5 ? 8 : 0, high = rows.length ? HALF_BOX : 12;
  const under = side === "below" ? WORDS_BELOW : 0;
  return {
    drop, left: side === "before" ? left - words : left, right: left + wide + (side === "behind" ? words : 14),
    height: elbow + (rows.length ? (rows.length - 1) * STUB_ROW + 42 : 24) + under,
    put: (top, aside) => {
      const x = left - place.x, y = top + elbow + high - place.y, last = y + STUB_ROW * Math.max(0, rows.length - 1);
      const lines = rows.map((row, i) => row.wire(x, y + STUB_ROW * i));
      const gaps = rows.map((row, i) => `M${pathNumber(x + row.to)} ${y + STUB_ROW * i}h${row.width - row.to}`);
      place.wire = rows.length ? lines.join("") : `M${pathNumber(x)} ${y}h${pathNumber(long)}`;
      const start = x + (rows[0]?.from ?? 0);
      const bend = elbow || aside ? `V${top - place.y}H${pathNumber(start)}V${y}` : `V${y}H${pathNumber(start)}`;
      place.hair += `${hairDown(place, aside, top)}${bend}${gaps.join("")}`;
      const end = rows.length ? x + rows[rows.length - 1].width - 12 : x + long;
      place.pieces = [{ x, y, width: Math.max(wide, 24) }];
      if (thing.ring) place.ring = { x: end, y: last };
      const below = { x: Math.max(-place.x, Math.min(x + 2, most - place.x - words + 18)), y: last + (rows.length ? 22 : 11) };
      const beside = { x: side === "behind" ? end + 15 : DROP_AT - words + 8, y: last - 8 };
      place.label = { ...(side === "below" ? below : beside), which: 0 };
    },
  };
};

/**
 * The next one to be put: none that waits may come down through it; the rightmost of those.
 * @param {Hang[]} waiting
 */
const nextHang = (waiting) => {
  const free = waiting.filter((hang) => !waiting.some((other) => (
    other !== hang && hang.left <= other.drop && other.drop <= hang.right)));
  return (free.length ? free : waiting).reduce((best, hang) => (hang.drop > best.drop ? hang : best));
};

/**
 * Put what hangs below a row where nothing of it overlaps. Two that are wide may each stand below
 * the other's box: the hairline of the lower one then comes down at the left of them all.
 * @param {Hang[]} hangs
 * @param {number} top
 * @param {number} apart sideways
 * @param {number} [beside] room at the left for hairlines; without, they come straight down [px]
 * @returns {number} the lowest edge
 */
export const hangBelow = (hangs, top, apart, beside = 0) => {
  /** @type {{hang: Hang, left: number, right: number, bottom: number}[]} */
  const taken = [];
  let waiting = hangs, aside = 0;
  while (waiting.length) {
    const hang = nextHang(waiting);
    waiting = waiting.filter((other) => other !== hang);
    const crosses = beside > 0 && taken.some(({ hang: { left, right } }) => left <= hang.drop && hang.drop <= right);
    const left = crosses ? -Infinity : Math.min(hang.left, hang.drop) - apart, right = Math.max(hang.right, hang.drop) + apart;
    const over = taken.filter((other) => other.left < right && left < other.right);
    const y = Math.max(top, ...over.map((other) => other.bottom));
    hang.put(y, crosses ? { run: top - 3 - 3 * (aside % 3), at: -beside + 2 * (aside % 3) } : null);
    taken.push({ hang, left, right, bottom: y + hang.height });
    if (crosses) aside += 1;
  }
  return Math.max(top, ...taken.map((other) => other.bottom));
};
