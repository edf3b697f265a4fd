/* Sending edits from fields: one after the other, and what is wrong comes back as words. */

/** @import { Edit, Fault } from "./types.js" */
/** @import { Store } from "./store.js" */

const GONE = "The program does not answer; nothing was changed.";

/**
 * What is wrong, for a field beside which it stands: without the place, which one sees.
 * @param {Fault|null|undefined} fault
 * @returns {string}
 */
export const faultWords = (fault) => {
  if (!fault) return GONE;
  const place = fault.where ? `${fault.where}: ` : "";
  return place && fault.text.startsWith(place) ? fault.text.slice(place.length) : fault.text || fault.what;
};

/**
 * @param {unknown} error of a promise of the server
 * @returns {string}
 */
export const errorWords = (error) => faultWords(/** @type {{fault?: Fault}} */ (error)?.fault);

/** @type {WeakMap<Store, Promise<string>>} */
const queues = new WeakMap();

/**
 * Send an edit when those before it are done: each goes with the newest revision.
 * @param {Store} store
 * @param {() => Edit|null} edit made when its turn comes, as places change; null for none any more
 * @returns {Promise<string>} what is wrong; "" when it was done
 */
export const sendEdit = (store, edit) => {
  const turn = (queues.get(store) ?? Promise.resolve("")).then(async () => {
    const made = edit();
    if (!made) return "This is no longer on the board.";
    if (await store.edit(made)) return "";
    return faultWords(store.view().fault);
  });
  queues.set(store, turn);
  return turn;
};
