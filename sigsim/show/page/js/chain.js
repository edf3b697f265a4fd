/* Finding things on the line: by key, in the order of the signal. */

/** @import { At, BoardData, Item } from "./types.js" */
/** @import { View } from "./store.js" */

/**
 * Anything that the drawer can show: what stands on the line, the instrument, an end.
 * @typedef {object} Thing
 * @property {Item["kind"]|"instrument"|"end"} kind
 * @property {string} key
 * @property {string} name
 * @property {At} [at]
 * @property {Item} [item] what stands on the line
 */

/**
 * All things in the order of the signal, what is inside a loop or a split behind it.
 * @param {Item[]} items
 * @returns {Item[]}
 */
export const walk = (items) => items.flatMap((item) => [item, ...walk(item.inside ?? [])]);

/**
 * @param {BoardData} data
 * @param {string|null} key
 * @returns {Item|null}
 */
export const itemOf = (data, key) => walk(data.chain).find((item) => item.key === key) ?? null;

/**
 * @param {BoardData} data
 * @param {string|null} key
 * @returns {Thing|null} null where the board has no such thing any more
 */
export const thingOf = (data, key) => {
  if (key === "instrument") return { kind: "instrument", key, name: data.instrument, at: data.instrumentAt };
  if (key === "end") return { kind: "end", key, name: data.destination, at: data.destinationAt };
  if (key?.startsWith("end:")) {
    const split = walk(data.chain).find((item) => item.kind === "split" && `end:${item.name}` === key);
    return split ? { kind: "end", key, name: split.end ?? "open end", at: split.endAt, item: split } : null;
  }
  const item = itemOf(data, key);
  return item ? { kind: item.kind, key: item.key, name: item.name, at: item.at, item } : null;
};

/**
 * Where a thing is after an edit: by its key, or else at the same place in the order, as a cable
 * gets another key when it is written, and a box when it is renamed.
 * @param {BoardData} before
 * @param {BoardData} after
 * @param {string} key
 * @returns {string|null}
 */
export const keyAfter = (before, after, key) => {
  if (thingOf(after, key)) return key;
  const [old, young] = [walk(before.chain), walk(after.chain)];
  const place = old.findIndex((item) => item.key === key);
  if (place < 0 || old.length !== young.length || old[place].kind !== young[place].kind) return null;
  return young[place].key;
};

/**
 * The nearest thing that is still there, for the focus when one is taken out.
 * @param {BoardData} before
 * @param {BoardData} after
 * @param {string} key
 * @returns {string}
 */
export const nearestKey = (before, after, key) => {
  const old = walk(before.chain).map((item) => item.key);
  const there = new Set(walk(after.chain).map((item) => item.key));
  const place = Math.max(old.indexOf(key), 0);
  const near = [...old.slice(place), ...old.slice(0, place).reverse()];
  return near.find((candidate) => there.has(candidate)) ?? "instrument";
};

/**
 * What takes the focus for a thing: a joint has nothing on the line but its "+".
 * @param {BoardData} data
 * @param {string} key
 * @returns {string}
 */
export const focusKey = (data, key) => {
  const items = walk(data.chain);
  const place = items.findIndex((item) => item.key === key);
  if (place < 0 || items[place].kind !== "joint") return key;
  return items.slice(0, place).reverse().find((item) => item.kind !== "joint")?.key ?? "instrument";
};

/**
 * @param {BoardData} before
 * @param {BoardData} after
 * @returns {string|null} of what was put in; null where nothing was
 */
export const newKey = (before, after) => {
  const old = new Set(walk(before.chain).map((item) => item.key));
  const added = walk(after.chain).filter((item) => !old.has(item.key));
  return (added.find((item) => item.kind === "box" || item.kind === "loop") ?? added[0])?.key ?? null;
};

/**
 * @param {Thing} thing
 * @param {View} view
 * @returns {string} its state in words, as it is written under it on the line
 */
export const conditionOf = (thing, view) => {
  const { item } = thing;
  if (thing.kind === "instrument" || thing.kind === "end" || !item) return "";
  if (item.kind === "cable" || item.kind === "tap") return item.lengthText ?? "";
  if (item.kind === "split") return "splits off";
  if (item.kind === "joint") return "no cable";
  const on = item.s !== undefined && view.steady.on.has(item.s);
  if (item.kind === "loop") return item.s === undefined ? "always in" : (on ? "in" : "out");
  if (item.s === undefined) return "always on";
  if (on) return "on";
  return { buffered: "off · buffered", hardwire: "off · hangs on" }[item.bypass ?? ""] ?? "off";
};
