/* Where a box may go: among the boxes of its own level, whatever else stands between them. */

/** @import { Item } from "./types.js" */

/** @typedef {{key: string, left: number, right: number, top: number, bottom: number}} Spot */
/** @typedef {{x: number, y: number}} Point */

/**
 * The list in which a thing stands.
 * @param {Item[]} items
 * @param {string} key
 * @returns {{item: Item, level: Item[]}|null}
 */
export const levelOf = (items, key) => {
  for (const item of items) {
    if (item.key === key) return { item, level: items };
    const inside = item.inside && levelOf(item.inside, key);
    if (inside) return inside;
  }
  return null;
};

/**
 * @param {Item} item
 * @returns {boolean} it can be put elsewhere; a tap or split goes with the box it hangs on
 */
const isBox = (item) => item.kind === "box" || item.kind === "loop";

/**
 * @param {Item[]} level
 * @returns {Item[]}
 */
export const boxesOf = (level) => level.filter(isBox);

/**
 * Why a thing stays where it is; "" where it can be moved.
 * @param {Item[]} items all of the chain
 * @param {string} key
 */
export const stays = (items, key) => {
  const found = levelOf(items, key);
  if (!found) return "This has its place at an end of the line.";
  const { item, level } = found;
  if (item.kind === "cable" || item.kind === "joint") return "Cables keep their places: move the boxes between them.";
  if (!isBox(item)) return `${item.name} hangs on the box before it and goes where that goes.`;
  if (item.at === undefined || item.at === null) return `${item.name} stands in the file of an included board: move it there.`;
  return boxesOf(level).length < 2 ? `${item.name} is alone here: there is no box to go past.` : "";
};

/**
 * @param {Spot} spot
 * @returns {number}
 */
const middle = (spot) => (spot.top + spot.bottom) / 2;

/**
 * Between which boxes a point is, line by line as one reads.
 * @param {Spot[]} others the boxes of the level without the one in hand, along the signal
 * @param {Spot} home where that one stands: it may have a row of its own
 * @param {Point} point
 * @returns {number} how many of them are before it
 */
export const placeAt = (others, home, point) => {
  const nearest = others.reduce((best, spot) => (
    Math.abs(middle(spot) - point.y) < Math.abs(middle(best) - point.y) ? spot : best), home);
  return others.filter((spot) => {
    const lower = middle(spot) - middle(nearest);
    if (Math.abs(lower) > (nearest.bottom - nearest.top) / 2) return lower < 0;
    return (spot.left + spot.right) / 2 < point.x;
  }).length;
};

/**
 * Where the mark for that place stands: between two boxes, or at the one in the row of the point.
 * @param {Spot[]} others
 * @param {number} place
 * @param {Point} point
 * @returns {{x: number, top: number, bottom: number}}
 */
export const markAt = (others, place, point) => {
  const before = others[place - 1];
  const after = others[place];
  if (!before) return { x: after.left - 9, top: after.top, bottom: after.bottom };
  if (!after) return { x: before.right + 9, top: before.top, bottom: before.bottom };
  if (Math.abs(middle(before) - middle(after)) < 8) {
    return { x: (before.right + after.left) / 2, top: after.top, bottom: after.bottom };
  }
  return Math.abs(middle(before) - point.y) <= Math.abs(middle(after) - point.y)
    ? { x: before.right + 9, top: before.top, bottom: before.bottom }
    : { x: after.left - 9, top: after.top, bottom: after.bottom };
};
