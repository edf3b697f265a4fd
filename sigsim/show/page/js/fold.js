/* The cables of the line, to scale: straight, or folded into upright strokes with round turns. The
   path is exactly as long as the scale says. */

/** @import { How, Place, Thing } from "./lay.js" */

/** A longer cable is folded [m]. */
export const STRAIGHT = 0.8;
/** Distance of the upright strokes [px]. */
export const PITCH = 8;
const FOLD_RADIUS = PITCH / 2;
const FOLD_UPRIGHT = 26;
/** What one turn takes in at most [px]. */
export const TURN = FOLD_UPRIGHT + Math.PI * FOLD_RADIUS;

/** A hairline at either end of what is folded [px]. */
const FOLD_EDGE = 6;
/** What a finger needs [px]. */
const FINGER = 24;
/** The middle of a "+" against the cable [px]. */
const PLUS_AT = -18;

/** @param {number} value */
export const pathNumber = (value) => String(Math.round(value * 1000) / 1000);

/**
 * A path of `turns` turns, from the middle to the middle.
 * @param {number} x where it begins
 * @param {number} y
 * @param {number} turns
 * @param {number} upright length of a stroke between two turns
 */
const meander = (x, y, turns, upright) => {
  let path = `M${pathNumber(x)} ${pathNumber(y)}v${pathNumber(-upright / 2)}`;
  for (let i = 0; i < turns; i += 1) {
    const over = i % 2 === 0;
    const stroke = i === turns - 1 ? upright / 2 : upright;
    path += `a${FOLD_RADIUS} ${FOLD_RADIUS} 0 0 ${over ? 1 : 0} ${PITCH} 0v${pathNumber(over ? stroke : -stroke)}`;
  }
  return path;
};

/**
 * What stands in one row without a break.
 * @typedef {object} Chunk
 * @property {Thing} thing
 * @property {number} width
 * @property {number} from where its wire begins
 * @property {number} to
 * @property {boolean} folded
 * @property {(x: number, y: number) => string} wire its path, begun at a place
 * @property {number} plus where the middle of "+" is; -1 for none
 * @property {number} ring
 */

/**
 * @param {Thing} thing
 * @param {How} how
 * @param {number} most room in a row
 * @returns {Chunk}
 */
const solidChunk = (thing, how, most) => {
  const cable = thing.kind === "cable" || thing.kind === "joint";
  const long = thing.kind === "cable" ? thing.length * how.scale : 0;
  const width = cable ? Math.ceil(Math.max(how.phone ? 30 : 36, long)) : Math.min(thing.width, most);
  const from = cable ? (width - long) / 2 : 0, to = cable ? from + long : width;
  return {
    thing, width, from, to, folded: false,
    wire: (x, y) => (long > 0 ? `M${pathNumber(x + from)} ${pathNumber(y)}H${pathNumber(x + to)}` : ""),
    plus: cable && thing.plus ? width / 2 : -1,
    ring: cable && thing.ring ? Math.min(Math.max(to, FINGER / 2), width - FINGER / 2) : -1,
  };
};

/**
 * A folded cable, in one piece where a row can hold it.
 * @param {Thing} thing
 * @param {How} how
 * @param {number} room what is left of the row
 * @param {number} most room in a row
 * @returns {Chunk[]}
 */
export const foldChunks = (thing, how, room, most) => {
  const long = thing.length * how.scale;
  const turns = Math.max(2, Math.ceil(long / TURN - 1e-9));
  const upright = long / turns - Math.PI * FOLD_RADIUS;
  const before = thing.last && thing.plus ? FINGER + 2 : FOLD_EDGE;
  const after = thing.ring || (thing.plus && !thing.last) ? FINGER + FOLD_EDGE : FOLD_EDGE;
  const whole = before + turns * PITCH + after;
  /* Broken only when longer than a row; then it begins where some of it still fits. */
  let space = whole <= room ? room : whole <= most || room < before + 12 * PITCH ? most : room;
  /** @type {Chunk[]} */
  const chunks = [];
  for (let left = turns; left > 0; space = most) {
    const from = chunks.length ? FOLD_EDGE : before;
    const last = from + left * PITCH + after <= space;
    const fits = Math.max(1, Math.floor((space - from - FOLD_EDGE) / PITCH));
    const here = last ? left : Math.max(1, Math.min(left - 1, fits));
    left -= here;
    const to = from + here * PITCH, width = to + (left > 0 ? FOLD_EDGE : after);
    chunks.push({
      thing, width, from, to, folded: true,
      wire: (x, y) => meander(x + from, y, here, upright),
      plus: !thing.plus || (thing.last ? chunks.length > 0 : left > 0) ? -1 : thing.last ? 13 : width - FINGER / 2,
      ring: thing.ring && left <= 0 ? width - FINGER / 2 : -1,
    });
  }
  return chunks;
};

/**
 * @param {Thing} thing
 * @param {How} how
 * @param {number} room
 * @param {number} most
 */
export const chunksOf = (thing, how, room, most) => (
  thing.kind === "cable" && thing.length > STRAIGHT ? foldChunks(thing, how, room, most) : [solidChunk(thing, how, most)]);

/**
 * One thing from its chunks, when each of them has its place.
 * @param {{chunk: Chunk, x: number, y: number, lead: number}[]} set `lead` is the hairline before it
 * @returns {Place}
 */
export const placeOfChunks = (set) => {
  const [{ chunk: { thing, width, folded }, x, y }] = set;
  const box = thing.kind === "box" || thing.kind === "tap";
  /** @type {Place} */
  const place = { key: thing.key, x, y, width, folded, box, wire: "", hair: "", pieces: [], plus: null, ring: null, label: null };
  set.forEach((one) => {
    const { chunk, lead } = one, dx = one.x - x, dy = one.y - y;
    place.wire += chunk.wire(dx, dy);
    const hairs = box ? [] : chunk.to > chunk.from ? [[0, chunk.from], [chunk.to, chunk.width]] : [[0, chunk.width]];
    if (lead > 0) hairs.push([-lead, 0]);
    hairs.filter(([from, to]) => to - from > 0.01).forEach(([from, to]) => {
      place.hair += `M${pathNumber(dx + from)} ${dy}H${pathNumber(dx + to)}`;
    });
    if (!box) place.pieces.push({ x: dx + chunk.from, y: dy, width: chunk.to - chunk.from });
    if (chunk.plus >= 0) place.plus = { x: dx + chunk.plus, y: dy + PLUS_AT };
    if (chunk.ring >= 0) place.ring = { x: dx + chunk.ring, y: dy };
  });
  return place;
};
