/* What can be put into a gap: pedals by what players call them, a buffer, a loop, a split, a side
   cable, another cable. */

import { itemOf, walk } from "./chain.js";
import { partPicks, picker } from "./picker.js";
import { errorWords, sendEdit } from "./sending.js";

/** @import { PartOffer, Server } from "./asked.js" */
/** @import { Pick } from "./picker.js" */
/** @import { Store } from "./store.js" */
/** @import { BoardData, Edit } from "./types.js" */

/** @type {WeakMap<object, Promise<PartOffer[]>>} */
const partsKnown = new WeakMap();

/**
 * The parts of the library, asked for once.
 * @param {Server} server
 * @returns {Promise<PartOffer[]>}
 */
export const partsOf = (server) => {
  const known = partsKnown.get(server);
  if (known) return known;
  const parts = server.parts();
  partsKnown.set(server, parts);
  parts.catch(() => partsKnown.delete(server));
  return parts;
};

/**
 * @param {BoardData} data
 * @param {string} key of the gap
 * @returns {Edit["gap"]|null} where things are put in there; null where nothing can be
 */
const gapOf = (data, key) => itemOf(data, key)?.gap ?? null;

/**
 * What is no part of the library.
 * @param {BoardData} data
 * @param {Edit["gap"]} gap
 * @returns {Pick[]}
 */
const otherPicks = (data, gap) => {
  const cables = [...new Set(walk(data.chain).flatMap((item) => (item.cable ? [item.cable] : [])))];
  const group = "wiring";
  return [
    { words: "a loop", more: "a switch that takes what is in it in and out together", find: "switcher, send and return, looper, effects loop", group, edit: { do: "insert", gap, kind: "loop" } },
    { words: "a split", more: "a second way from here, to another amp", find: "second amp, two amps, aby, stereo", group, edit: { do: "insert", gap, kind: "split" } },
    { words: "a side cable", more: "a cable that only hangs on here, as to a tuner", find: "tuner out, tap", group, edit: { do: "insert", gap, kind: "tap" } },
    ...cables.map((name) => /** @type {Pick} */ ({
      words: `a cable: ${name}`, more: "one more piece of this kind", find: "lead, patch, extension", group, edit: { do: "insert", gap, kind: "cable", name },
    })),
  ];
};

/**
 * @param {PartOffer[]} parts
 * @param {BoardData} data
 * @param {Edit["gap"]} gap
 * @returns {Pick[]} the buffers first
 */
const insertPicks = (parts, data, gap) => {
  /** @param {PartOffer} part
   * @returns {Edit} */
  const put = (part) => ({ do: "insert", gap, part: part.part });
  const buffer = (/** @type {PartOffer} */ part) => part.part.startsWith("buffer");
  return [...partPicks(parts.filter(buffer), "stage", put), ...partPicks(parts.filter((part) => !buffer(part)), "stage", put), ...otherPicks(data, gap)];
};

/**
 * The list that "+" in a gap opens.
 * @param {Store} store
 * @param {Server} server
 * @param {string} key of the cable or joint
 * @param {(done: boolean) => void} leave after Escape, or when something was put in
 * @returns {Promise<{element: HTMLElement, focus: () => void, say: (words: string) => void}>}
 */
export const insertList = async (store, server, key, leave) => {
  const { data } = store.view().steady;
  const gap = gapOf(data, key);
  /** @type {PartOffer[]} */
  let parts = [];
  let wrong = gap === null ? "Nothing can be put in here." : "";
  try {
    parts = gap === null ? [] : await partsOf(server);
  } catch (error) {
    wrong = errorWords(error);
  }
  /** @param {Pick} pick
   * @returns {Edit|null} */
  const fresh = (pick) => {
    const now = gapOf(store.view().steady.data, key);
    return now === null ? null : { ...pick.edit, gap: now };
  };
  const list = picker({
    label: `Put in at ${itemOf(data, key)?.name ?? "this place"}`, keep: "put in",
    picks: gap === null ? [] : insertPicks(parts, data, gap),
    preview: (pick) => {
      const edit = pick && fresh(pick);
      if (edit) store.preview(edit, "ghost"); else store.restore();
    },
    take: async (pick) => {
      const words = await sendEdit(store, () => fresh(pick));
      if (!words) leave(true);
      return words;
    },
    leave: () => {
      store.restore();
      leave(false);
    },
  });
  list.say(wrong);
  return list;
};
