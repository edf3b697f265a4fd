/* A cable in the hand: its end is pulled sideways. */

/** @import { Store } from "./store.js" */
/** @import { Gesture, Line } from "./drag.js" */
/** @import { Point } from "./moving.js" */
import { PITCH, TURN } from "./fold.js";
import { pulled, snapped, unchanged } from "./lengths.js";
import { levelOf } from "./moving.js";
import { inTurn, outdated, stuck } from "./turns.js";

/**
 * @param {Store} store
 * @param {Line} line
 * @param {string} key of the cable
 * @param {Point} from
 * @returns {Gesture}
 */
export const pullCable = (store, line, key, from) => {
  const item = levelOf(store.view().steady.data.chain, key)?.item;
  if (item?.length === undefined) return stuck(store, "");
  const { at, length } = item;
  if (at === undefined || at === null) {
    return stuck(store, "This cable stands in the file of an included board: change it there.");
  }
  /** @param {string} text */
  const edit = (text) => ({ do: "length", at, length: text });
  /** The cable is still what was taken in the hand. */
  const same = () => {
    const other = levelOf(store.view().steady.data.chain, key)?.item;
    return other?.length === length && JSON.stringify(other.at) === JSON.stringify(at);
  };
  const before = item.lengthText ?? `${length} m`;
  let now = before;
  return {
    move: ({ x }) => {
      const found = snapped(item, pulled(length, x - from.x, line.scale(), TURN / PITCH));
      const still = Math.abs(x - from.x) < 2 || unchanged(item, found.metres);
      const wanted = still ? before : found.text;
      if (wanted === now) return;
      now = wanted;
      store.preview(edit(now), "drag");
    },
    drop: () => {
      if (now === before) store.restore();
      else inTurn(store, () => (same() ? store.edit(edit(now)) : outdated(store)));
    },
    back: () => store.restore(),
    again: () => {
      if (!same()) return false;
      if (now !== before) store.preview(edit(now), "drag");
      return true;
    },
    leave: () => undefined,
  };
};
