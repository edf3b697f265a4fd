/* A part in hand, by keys: from gap to gap, and in. */

/** @import { InHand } from "./hand.js" */
/** @import { KeyLine } from "./keys.js" */
/** @import { Store } from "./store.js" */
import { bestOffer } from "./gaps.js";

/**
 * Through the gaps with something in hand.
 * @param {Store} store
 * @param {KeyLine} line
 * @param {InHand} hand
 */
export const gapsByKey = (store, line, hand) => {
  /** Goes back to where one came from.
   * @type {(() => void)|null} */
  let home = null;

  /** @param {string} key */
  const gapOf = (key) => /** @type {HTMLElement|undefined} */ (
    [...line.element.querySelectorAll(".gap[data-key]")].find(
      (gap) => /** @type {HTMLElement} */ (gap).dataset.key === key));

  const offered = () => {
    const order = line.order();
    const keys = (store.view().hand?.gaps ?? []).map((gap) => gap.key).filter(gapOf);
    return keys.every((key) => order.includes(key))
      ? keys.sort((a, b) => order.indexOf(a) - order.indexOf(b)) : keys;
  };

  /** @param {string} key */
  const go = (key) => {
    line.focus(key);
    if (line.keyOf(document.activeElement) !== key) gapOf(key)?.focus();
  };

  /** @param {string} here
   * @param {number} way */
  const next = (here, way) => {
    const keys = offered();
    const order = line.order();
    const ahead = way > 0 ? keys : [...keys].reverse();
    const at = ahead.indexOf(here);
    const beyond = ahead.find((key) => (order.indexOf(key) - order.indexOf(here)) * way > 0);
    const wanted = at >= 0 ? ahead[at + 1] : beyond;
    if (wanted !== undefined) go(wanted);
  };

  /** @param {string} key */
  const putIn = async (key) => {
    const box = await hand.put(key);
    if (box) line.focus(box);
  };

  /* Once its gaps are there, who came by keyboard stands at the best of them. */
  const best = () => {
    const offer = bestOffer(store.view().hand);
    if (offer && gapOf(offer.key)) go(offer.key);
  };
  store.subscribe((view, before) => {
    if (!view.hand?.gaps || !before.hand || before.hand.gaps) return;
    const focus = document.activeElement;
    const typed = focus?.matches(":focus-visible");
    if (!typed || !(focus instanceof HTMLElement)) return;
    if (focus.matches("#bar .take")) home = () => focus.focus();
    else if (!line.element.contains(focus)) return;
    queueMicrotask(best);
  });

  return {
    putIn,
    /** @param {string|null} key that has the focus */
    begin: (key) => {
      home = key === null ? null : () => line.focus(key);
      hand.take();
    },
    /** @param {KeyboardEvent} event
     * @param {string} key
     * @returns {boolean} whether it was for the hand */
    press: (event, key) => {
      if (event.key === "Escape") {
        hand.drop();
        home?.();
        home = null;
      } else if (event.key === "ArrowRight" || event.key === "ArrowLeft") {
        next(key, event.key === "ArrowRight" ? 1 : -1);
      } else if ((event.key === "Enter" || event.key === " ") && hand.offerAt(key)) {
        if (!event.repeat) putIn(key);
      } else return false;
      return true;
    },
  };
};
