/* Where everything on the line stands, in pixels. No element is touched here: widths come in.

   Each place has an origin on the line itself (left edge, height of the cable); all else of it is
   said from there, so that what only moves is not drawn anew. */

/** @import { Chunk } from "./fold.js" */
/** @import { Hang } from "./hang.js" */
import { chunksOf, placeOfChunks, pathNumber } from "./fold.js";
import { DROP_AT, HALF_BOX, WORDS_BELOW, hairDown, hangBelow, shiftLaid, stubBelow } from "./hang.js";

/**
 * What is to be placed.
 * @typedef {object} Thing
 * @property {string} key
 * @property {"box"|"tap"|"cable"|"joint"} kind a box, a loop, a split and an end are all boxes
 * @property {number} width of a box [px]
 * @property {number} length of a cable or a tap [m]
 * @property {number[]} labels widths of what is written under a cable, the longest first [px]
 * @property {boolean} plus something can be put in here
 * @property {boolean} ring its length can be changed
 * @property {boolean} last a cable to an end
 * @property {Thing[]|null} lane what stands in a frame below a box
 * @property {boolean} titled the frame has a title
 */

/**
 * @typedef {object} Place
 * @property {string} key
 * @property {number} x origin: left edge [px]
 * @property {number} y origin: height of the cable [px]
 * @property {number} width of a box, or of the first piece of a cable
 * @property {boolean} box
 * @property {boolean} folded
 * @property {string} wire the path of the cable
 * @property {string} hair the path of hairlines
 * @property {{x: number, y: number, width: number}[]} pieces of a cable, for the finger
 * @property {{x: number, y: number}|null} plus its middle
 * @property {{x: number, y: number}|null} ring its middle
 * @property {{x: number, y: number, which: number}|null} label left and upper edge, and which text
 */

/** @typedef {{key: string, x: number, y: number, width: number, height: number}} Frame */

/**
 * @typedef {object} Laid
 * @property {number} width
 * @property {number} height
 * @property {Place[]} places
 * @property {Frame[]} frames
 * @property {{x: number, y: number}[]} marks "›" at the ends of rows
 */

/**
 * @typedef {object} How
 * @property {number} scale [px/m]
 * @property {boolean} phone
 * @property {boolean} editable
 */

const LINE_SCALES = [[140, 120, 100, 80], [240, 200, 160, 120]];

/**
 * Whether the line is drawn as on a phone.
 * @param {number} windowWidth [px]
 */
export const narrow = (windowWidth) => windowWidth < 600;

/**
 * The scales of the line, largest first.
 * @param {boolean} phone
 * @returns {number[]} [px/m]
 */
export const scales = (phone) => LINE_SCALES[phone ? 0 : 1];


/** A hairline between boxes that no cable joins [px]. */
const BETWEEN_BOXES = 12;
const LANE_TITLE = 22;

/**
 * @typedef {object} Standing a chunk in its row
 * @property {Chunk} chunk
 * @property {number} x
 * @property {number} y
 * @property {number} lead the hairline before it
 */

/** @param {How} how */
const aboveRow = (how) => (how.editable ? 30 : 28);

/**
 * What stands in a frame below a box.
 * @param {Thing} thing
 * @param {Place} place
 * @param {How} how
 * @param {number} most
 * @param {Laid} into
 * @returns {Hang}
 */
const laneBelow = (thing, place, how, most, into) => {
  const pad = most < 200 ? 4 : 14, head = thing.titled ? LANE_TITLE : 0;
  const laid = flowThings(thing.lane ?? [], most - 2 * pad, how, pad - 2);
  const width = Math.max(laid.width + 2 * pad, thing.titled ? Math.min(most, 200) : 0), drop = place.x + DROP_AT;
  const left = Math.max(0, Math.min(drop - pad, most - width));
  const height = laid.height + head + 4;
  return {
    drop, left, right: left + width, height: height + 4,
    put: (y, side) => {
      const inner = y + Math.min(12, height / 2);
      const end = side ? `H${pathNumber(left - place.x)}` : `V${pathNumber(y - place.y)}`;
      place.hair += `${hairDown(place, side, inner)}${end}`;
      into.frames.push({ key: thing.key, x: left, y, width, height });
      shiftLaid(laid, left + pad, y + head, into);
    },
  };
};

/**
 * Write the lengths under a row, each clear of the one before.
 * @param {{place: Place, thing: Thing, piece: {x: number, y: number, width: number}}[]} wanted
 * @param {number} most
 */
const letterRow = (wanted, most) => {
  let free = 0;
  wanted.forEach(({ place, thing, piece }, i) => {
    const middle = place.x + piece.x + piece.width / 2;
    const next = wanted[i + 1];
    const until = next ? next.place.x + next.piece.x + next.piece.width / 2 - Math.min(...next.thing.labels) / 2 - 6 : most;
    const from = (/** @type {number} */ width) => Math.max(free, Math.min(middle - width / 2, most - width), 0);
    const fits = thing.labels.findIndex((width) => from(width) + width <= until && width <= piece.width + 90);
    const which = fits < 0 ? thing.labels.length - 1 : fits;
    const x = from(thing.labels[which]);
    free = x + thing.labels[which] + 6;
    place.label = { x: x - place.x, y: piece.y + HALF_BOX + 1, which };
  });
};

/**
 * @param {Thing[]} things
 * @param {number} most room [px]
 * @param {How} how
 * @returns {Standing[][]} row by row
 */
const inRows = (things, most, how) => {
  /** @type {Standing[][]} */
  const rows = [[]];
  let x = 0, boxed = false;
  things.forEach((thing) => {
    const box = thing.kind === "box" || thing.kind === "tap";
    let lead = box && boxed ? BETWEEN_BOXES : 0;
    chunksOf(thing, how, most - x - lead, most).forEach((chunk) => {
      if (x + lead + chunk.width > most && rows[rows.length - 1].length) {
        rows.push([]);
        x = lead = 0;
      }
      rows[rows.length - 1].push({ chunk, x: x + lead, y: 0, lead });
      x += lead + chunk.width;
      lead = 0;
    });
    boxed = box;
  });
  return rows;
};

/**
 * Lay things in rows.
 * @param {Thing[]} things
 * @param {number} most room [px]
 * @param {How} how
 * @param {number} beside room at the left of it [px]
 * @returns {Laid}
 */
const flowThings = (things, most, how, beside) => {
  /** @type {Laid} */
  const laid = { width: 0, height: 0, places: [], frames: [], marks: [] };
  /** @type {Map<Thing, Standing[]>} */
  const open = new Map();
  const rows = inRows(things, most, how);
  rows.forEach((row, i) => {
    const middle = laid.height + aboveRow(how);
    /** @type {Hang[]} */
    const hangs = [];
    /** @type {Parameters<typeof letterRow>[0]} */
    const wanted = [];
    row.forEach((standing, at) => {
      const { thing } = standing.chunk;
      standing.y = middle;
      open.set(thing, [...(open.get(thing) ?? []), standing]);
      if (row[at + 1]?.chunk.thing === thing || rows[i + 1]?.[0].chunk.thing === thing) return;
      const place = placeOfChunks(open.get(thing) ?? []);
      laid.places.push(place);
      if (thing.kind === "tap") hangs.push(stubBelow(thing, place, how, most));
      else if (thing.lane) hangs.push(laneBelow(thing, place, how, most, laid));
      else if (thing.labels.length) wanted.push({ place, thing, piece: place.pieces[place.pieces.length - 1] });
    });
    letterRow(wanted, most);
    const last = row[row.length - 1], right = last.x + last.chunk.width;
    if (i) laid.marks.push({ x: -8, y: middle });
    if (i < rows.length - 1) laid.marks.push({ x: right + 2, y: middle });
    const below = middle + HALF_BOX + (wanted.length ? WORDS_BELOW : 0);
    laid.height = hangBelow(hangs, below + (hangs.length ? 12 : 0), 8, Math.min(beside, 8)) + (hangs.length ? 4 : 0);
    const labels = wanted.map(({ place, thing }) => place.x + (place.label?.x ?? 0) + thing.labels[place.label?.which ?? 0]);
    laid.width = Math.max(laid.width, right, ...labels, ...hangs.map((hang) => hang.right));
  });
  return laid;
};

/**
 * Lay the whole line.
 * @param {Thing[]} things
 * @param {number} width room [px]
 * @param {How} how
 * @returns {Laid}
 */
export const lay = (things, width, how) => flowThings(things, width - 8, how, 6);

/**
 * The largest scale with which the line ends in the room there is, else the smallest.
 * @param {number[]} from largest first
 * @param {number} room height [px]
 * @param {(scale: number) => number} heightAt
 */
export const fitting = (from, room, heightAt) => (
  from.find((scale) => heightAt(scale) <= room) ?? from[from.length - 1]);
