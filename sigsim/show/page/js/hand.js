/* A buffer in the hand, looking for its gap: what it would give in each, for the state shown. */

/** @import { BoardData, Fault, GapOffer } from "./types.js" */
/** @import { Store } from "./store.js" */
import { walk } from "./chain.js";
import { inTurn, sayWhy } from "./turns.js";

/**
 * @typedef {object} GapServer
 * @property {(part: string, on: string[], signal: AbortSignal) => Promise<GapOffer[]|{gaps: GapOffer[]}>} gaps
 */

const BUFFER = "buffer-opamp";
/* So long a state must stand before its numbers are asked for, that quick switching asks once [ms]. */
const GAPS_REST = 120;

/**
 * @param {BoardData} before
 * @param {BoardData} after
 * @returns {string|null} key of the box that has come
 */
const comeIn = (before, after) => {
  const known = new Set(walk(before.chain).map((item) => item.key));
  return walk(after.chain).find((item) => item.kind === "box" && !known.has(item.key))?.key ?? null;
};

/**
 * @param {Store} store
 * @param {GapServer} server
 */
export const bufferInHand = (store, server) => {
  /** @type {AbortController|null} */
  let asked = null;
  /** @type {BoardData|null} */
  let board = null;
  let timer = 0;

  const stop = () => {
    clearTimeout(timer);
    asked?.abort();
    asked = null;
  };

  const ask = async () => {
    stop();
    const { hand, steady } = store.view();
    if (!hand) return;
    const mine = new AbortController();
    asked = mine;
    try {
      const found = await server.gaps(hand.part, store.names(), mine.signal);
      const held = store.view().hand;
      if (asked !== mine || !held) return;
      board = steady.data;
      store.change({ hand: { ...held, gaps: Array.isArray(found) ? found : found.gaps, busy: false } });
    } catch (error) {
      if (asked !== mine) return;
      const { fault = null, revision } = /** @type {{fault?: Fault, revision?: number}} */ (error);
      /* A board that is not shown yet was asked about: its answer comes, and asks again. */
      if (fault && revision !== store.view().answer?.revision) return;
      store.change({ fault, offline: fault === null });
    }
  };

  const again = () => {
    const { hand, steady } = store.view();
    if (!hand) return;
    const gaps = steady.data === board ? hand.gaps : null;
    store.change({ hand: { ...hand, gaps, busy: gaps !== null } });
    timer = window.setTimeout(ask, GAPS_REST);
  };

  store.subscribe((view, before) => {
    if (!view.hand) {
      if (before.hand) stop();
    } else if (before.hand && view.steady !== before.steady) {
      stop();
      /* Not from within: the others are still being told of this change. */
      timer = window.setTimeout(again, 0);
    }
  });

  /** @param {string} key */
  const offerAt = (key) => {
    const { hand, steady } = store.view();
    return (board === steady.data && hand?.gaps?.find((gap) => gap.key === key)) || null;
  };

  const drop = () => { if (store.view().hand) store.hold(null); };

  /**
   * @param {string} [part]
   * @param {string} [name]
   */
  const take = (part = BUFFER, name = "buffer") => {
    store.hold({ part, name, gaps: null });
    ask();
  };

  /**
   * Put it into a gap.
   * @param {string} key of the cable or joint
   * @returns {Promise<string|null>} key of the new box; null where it did not go in
   */
  const put = async (key) => {
    const offer = offerAt(key);
    if (!offer?.edit) {
      if (offer) sayWhy(store, offer.refused || offer.says);
      return null;
    }
    const { edit } = offer;
    const before = store.view().steady.data;
    const done = await inTurn(store, () => (
      store.view().steady.data === before ? store.edit(edit) : Promise.resolve(false)));
    if (!done) return null;
    drop();
    return comeIn(before, store.view().steady.data);
  };

  return {
    take,
    drop,
    put,
    offerAt,
    toggle: () => (store.view().hand ? drop() : take()),
  };
};

/** @typedef {ReturnType<typeof bufferInHand>} InHand */
