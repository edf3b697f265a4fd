/* What stands in a gap of the line: "+", or what the part in hand would give there. */

/** @import { GapOffer } from "./types.js" */
/** @import { Hand } from "./store.js" */
import { write } from "./dom.js";
import { attribute } from "./nodes.js";
import { decibel, tenth } from "./words.js";

/**
 * The offer that leaves the least lost; of equal ones the better in the worst state.
 * @param {Hand|null} hand
 * @returns {GapOffer|null}
 */
export const bestOffer = (hand) => {
  const open = (hand?.gaps ?? []).filter((offer) => offer.then !== null && !offer.refused && !offer.says);
  const rank = (/** @type {GapOffer} */ offer) => [offer.then ?? Infinity, offer.worst ?? Infinity];
  return open.reduce((/** @type {GapOffer|null} */ best, offer) => {
    if (!best) return offer;
    const [a, b] = [rank(offer), rank(best)];
    return a[0] < b[0] || (a[0] === b[0] && a[1] < b[1]) ? offer : best;
  }, null);
};

/**
 * The best offer, where it leaves less lost than now: what is filled is advice.
 * @param {Hand|null} hand
 * @param {number} now treble loss of the state that is shown [dB]
 */
export const gainingOffer = (hand, now) => {
  const best = bestOffer(hand);
  return best && tenth(best.then ?? Infinity) < tenth(now) ? best : null;
};

/**
 * What the line says while something in the hand looks for its gap.
 * @param {Hand} hand
 * @param {number} now treble loss of the state that is shown [dB]
 */
export const handWords = (hand, now) => {
  const none = bestOffer(hand) && !hand.busy && !gainingOffer(hand, now) ? ", and nowhere less" : "";
  return `Press where it goes: each number is the dB of treble then lost; ${decibel(now)} now${none}.`;
};

/** @param {number} value [dB] */
const pillText = (value) => (tenth(value) >= 10 ? value.toFixed(0) : decibel(value));

/**
 * @param {GapOffer} offer
 * @param {Hand} hand
 * @param {string} place
 * @returns {{text: string, name: string, sort: string}}
 */
const offerWords = (offer, hand, place) => {
  if (offer.refused) return { text: "✕", name: `✕ not here, ${place}: ${offer.refused}`, sort: "refused" };
  if (offer.says || offer.then === null) {
    const text = offer.says.endsWith("out") ? "out" : "–";
    return { text, name: `${text}: ${offer.says}, ${place}`, sort: "silent" };
  }
  const text = pillText(offer.then), exactly = `${decibel(offer.then)} dB`;
  const worst = offer.worst === null ? "" : `, worst ${decibel(offer.worst)} dB`;
  const start = exactly.startsWith(`${text} `) ? exactly : `${text}, exactly ${exactly}`;
  return { text, name: `${start} with ${hand.name} ${place}${worst}`, sort: "offer" };
};

/**
 * @param {HTMLElement} gap
 * @param {string} key
 * @param {string} place in words: "in lead 6 m"
 * @param {Hand|null} hand
 * @param {GapOffer|null} best
 */
export const letterGap = (gap, key, place, hand, best) => {
  const offer = hand?.gaps?.find((one) => one.key === key);
  const said = !hand ? { text: "+", name: `+ a part ${place}`, sort: "plus" }
    : !hand.gaps ? { text: "…", name: `… ${hand.name} ${place}`, sort: "waiting" }
      : offer ? offerWords(offer, hand, place) : { text: "+", name: `+ ${hand.name} ${place}`, sort: "plus" };
  write(gap, said.text);
  attribute(gap, "aria-label", said.name);
  attribute(gap, "class", `gap ${said.sort}${offer && offer === best ? " best" : ""}`);
};
