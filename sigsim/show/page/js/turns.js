/* What is done by hand, one after the other: a step is sent when the answer to the last is in, so
   that quick fingers never ask about a board that is no longer there. */

/** @import { Store } from "./store.js" */

/** @type {WeakMap<Store, Promise<unknown>>} */
const lastTurns = new WeakMap();

/**
 * @param {Store} store
 * @param {() => Promise<boolean>} task looks at the store when its turn has come
 * @returns {Promise<boolean>} what the task says
 */
export const inTurn = (store, task) => {
  const turn = (lastTurns.get(store) ?? Promise.resolve()).then(task);
  lastTurns.set(store, turn.catch(() => false));
  return turn;
};

/**
 * Say why something was not done, where refused edits say it too.
 * @param {Store} store
 * @param {string} words
 */
export const sayWhy = (store, words) => store.change({ fault: { what: words, text: words } });

/**
 * Put back what was done by hand to a board that has become another one before its turn came.
 * @param {Store} store
 * @returns {Promise<boolean>}
 */
export const outdated = (store) => {
  store.restore();
  sayWhy(store, "The board was changed meanwhile, so it stays as it is now.");
  return Promise.resolve(false);
};

const stuckStill = () => undefined;

/**
 * What the hand has hold of but cannot take: it goes nowhere and says why when it is pulled at.
 * @param {Store} store
 * @param {string} words
 */
export const stuck = (store, words) => {
  let said = false;
  return {
    move: () => {
      if (!said && words) sayWhy(store, words);
      said = true;
    },
    drop: stuckStill, back: stuckStill, again: () => true, leave: stuckStill,
  };
};
