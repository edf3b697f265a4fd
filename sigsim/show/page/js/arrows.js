/* Lengths and places by keys: cables grow and shrink, boxes go earlier and later. */

/** @import { KeyLine } from "./keys.js" */
/** @import { Store } from "./store.js" */
import { itemOf, keyAfter } from "./chain.js";
import { stepped, unchanged } from "./lengths.js";
import { boxesOf, levelOf, stays } from "./moving.js";
import { inTurn, sayWhy } from "./turns.js";

/** @typedef {{key: string, word: string, last: number, steps: {way: number, far: boolean}[]}} Run */

/* A run of presses ends when the hand has rested so long [ms]. */
const RUN_PAUSE = 2000;

/**
 * Presses on one cable that follow each other: one step of undo, whatever the answers take.
 * @param {Store} store
 * @param {KeyLine} line
 */
export const lengthening = (store, line) => {
  /** @type {Run|null} */
  let run = null;

  /** @param {Run} mine */
  const send = async (mine) => {
    const { data } = store.view().steady;
    const item = itemOf(data, mine.key);
    const steps = mine.steps.splice(0);
    if (!item?.at || !steps.length) return true;
    let now = { metres: item.length ?? 0, text: "" };
    steps.forEach(({ way, far }) => { now = stepped(item, now.metres, way, far); });
    if (unchanged(item, now.metres)) return true;
    const focused = line.keyOf(document.activeElement) === mine.key;
    const done = await store.edit({ do: "length", at: item.at, length: now.text, join: mine.word });
    const key = done ? keyAfter(data, store.view().steady.data, mine.key) : null;
    if (key && key !== mine.key) {
      mine.key = key;
      if (focused) line.focus(key);
    }
    return done;
  };

  /**
   * @param {string} key
   * @param {number} way
   * @param {boolean} far
   */
  return (key, way, far) => {
    const item = itemOf(store.view().steady.data, key);
    if (item?.length === undefined) return;
    if (item.at === undefined || item.at === null) {
      sayWhy(store, "This cable stands in the file of an included board: change it there.");
      return;
    }
    const now = performance.now();
    if (!run || run.key !== key || now - run.last > RUN_PAUSE) {
      run = { key, word: crypto.randomUUID(), last: now, steps: [] };
    }
    const mine = run;
    mine.last = now;
    mine.steps.push({ way, far });
    inTurn(store, () => send(mine));
  };
};

/**
 * @param {Store} store
 * @param {KeyLine} line
 * @param {string} key
 * @param {number} by
 */
export const moveBox = (store, line, key, by) => inTurn(store, async () => {
  const { chain } = store.view().steady.data;
  const found = levelOf(chain, key);
  const why = stays(chain, key);
  if (why || !found) {
    sayWhy(store, why);
    return false;
  }
  const boxes = boxesOf(found.level);
  const place = boxes.indexOf(found.item) + by;
  if (place < 0 || place >= boxes.length) {
    sayWhy(store, `${found.item.name} is the ${by < 0 ? "first" : "last"} box here already.`);
    return false;
  }
  const done = await store.edit({ do: "move", at: found.item.at, by });
  if (done) line.focus(key);
  return done;
});
