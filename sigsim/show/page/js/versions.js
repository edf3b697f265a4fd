/* The versions of a board that a report holds: as it is written, and its variants. */

/** @import { BoardData } from "./types.js" */
/** @import { Section } from "./asked.js" */
/** @import { Band, Other } from "./beside.js" */
import { make, set } from "./dom.js";

/**
 * @typedef {object} OfReport
 * @property {string} label of its button
 * @property {string} longName
 * @property {string} changes in words
 * @property {Section[]} sections
 * @property {Other[]} others
 * @property {Band[]} bands
 */
/** @typedef {BoardData & OfReport} Version */
/** @typedef {Record<string, unknown> & {pool: number[], sections: number[], label: string, longName: string}} Packed */
/** @typedef {{pool: string[], sections: Section[], versions: Packed[]}} Packing */

/**
 * A version holds what differs from the first one, null for what it has not, and numbers of what is
 * listed once for all.
 * @param {Packing} packing
 * @param {number} index
 * @returns {Version}
 */
export const versionOf = (packing, index) => {
  const own = { ...packing.versions[0], ...packing.versions[index] };
  const there = Object.fromEntries(Object.entries(own).filter(([, value]) => value !== null));
  return /** @type {Version} */ (/** @type {unknown} */ ({
    ...there, pool: own.pool.map((i) => packing.pool[i]), sections: own.sections.map((i) => packing.sections[i]),
  }));
};

/**
 * Buttons to choose between versions, where there are several.
 * @param {Packing} packing
 * @param {HTMLElement} holder
 * @param {(index: number) => void} choose
 */
export const versionsView = (packing, holder, choose) => {
  if (packing.versions.length < 2) return;
  set(holder, { role: "group", "aria-label": "Variants" });
  const buttons = packing.versions.map((version, index) => {
    const button = make("button", { type: "button", title: version.longName, "aria-pressed": String(index === 0) }, version.label);
    button.addEventListener("click", () => {
      buttons.forEach((other, i) => set(other, { "aria-pressed": String(i === index) }));
      choose(index);
    });
    return button;
  });
  holder.append(...buttons);
};
