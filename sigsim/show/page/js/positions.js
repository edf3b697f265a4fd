/* What is on, remembered by name: an edit gives switches other numbers, and a box other names. */

/** @import { BoardData } from "./types.js" */

/** By what name each switch keeps its position from one board to the next.
 * @param {BoardData} data */
const keptNames = (data) => data.keeps ?? data.switches;

/**
 * What was renamed between two boards that are alike otherwise: its old name and its new one.
 * @param {string[]} was
 * @param {string[]} now
 * @returns {[string, string]|null}
 */
const renamedSwitch = (was, now) => {
  if (was.length !== now.length) return null;
  const other = now.flatMap((name, i) => (name === was[i] ? [] : [i]));
  if (other.length !== 1) return null;
  const [from, to] = [was[other[0]], now[other[0]]];
  return now.includes(from) || was.includes(to) ? null : [from, to];
};

/** What is on, from one answer to the next. */
export const positionsOf = () => {
  /** @type {Set<string>} */
  let on = new Set();
  /* The file on disk may still have the names of before. */
  /** @type {Map<string, string>} */
  const later = new Map();

  /** The names of a board as they are known now.
   * @param {BoardData} data */
  const known = (data) => {
    const own = keptNames(data);
    return own.map((name) => {
      const young = later.get(name);
      return young === undefined || own.includes(young) ? name : young;
    });
  };

  return {
    /** @param {BoardData} data
     * @returns {Set<number>} numbers of the switches that are on */
    of: (data) => new Set(known(data).flatMap((name, i) => (on.has(name) ? [i] : []))),
    /** @param {BoardData} data
     * @param {number} number */
    toggle: (data, number) => {
      const name = known(data)[number];
      if (on.has(name)) on.delete(name); else on.add(name);
    },
    /** @param {BoardData} data
     * @param {number[]} numbers of what is on, and nothing else */
    put: (data, numbers) => {
      on = new Set(numbers.map((number) => known(data)[number]));
    },
    /** What was on stays so under another name.
     * @param {BoardData} before
     * @param {BoardData} after */
    follow: (before, after) => {
      const renamed = renamedSwitch(keptNames(before), keptNames(after));
      if (!renamed) return;
      const [from, to] = renamed;
      if (on.delete(from)) on.add(to);
      later.forEach((young, old) => {
        if (young === from) later.set(old, to);
      });
      later.set(from, to);
      later.delete(to);
    },
  };
};
