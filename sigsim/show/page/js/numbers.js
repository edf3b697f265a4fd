/* All numbers of the state that is shown, as `sigsim loss` prints them. */

/** @import { Store } from "./store.js" */
/** @import { BoardData, Found } from "./types.js" */
import { make, write } from "./dom.js";
import { decibel, peak, shortHertz, signed } from "./words.js";

/** @typedef {{key: string, title: string, value: (found: Found) => string, beside: (found: Found) => string}} Cell */

/** @param {string} text */
const withUnit = (text) => (text === "-" ? text : `${text} dB`);
const nothingBeside = () => "";

/**
 * @param {BoardData} data
 * @returns {Cell[]}
 */
const cellsOf = (data) => [
  { key: "level", title: "Louder, 100 Hz", value: (f) => withUnit(signed(f.level)), beside: nothingBeside },
  ...data.lossAt.map((hertz, i) => ({
    key: `loss${hertz}`, title: `Loss, ${hertz / 1000} kHz`,
    value: (/** @type {Found} */ f) => withUnit(decibel(f.losses[i])), beside: nothingBeside,
  })),
  { key: "treble", title: "Treble loss", value: (f) => withUnit(decibel(f.treble)), beside: nothingBeside },
  { key: "word", title: "In a word", value: (f) => f.word, beside: nothingBeside },
  { key: "corner", title: "Corner, Hz", value: (f) => shortHertz(f.corner),
    beside: (f) => `reference ${shortHertz(f.referenceCorner)}` },
  { key: "resonance", title: "Resonance", value: (f) => peak(f.resonance),
    beside: (f) => `reference ${peak(f.referenceResonance)}` },
];

/**
 * @param {Store} store
 * @param {HTMLElement} holder
 */
export const numbersView = (store, holder) => {
  const fills = cellsOf(store.view().shown.data).map((cell) => {
    const first = make("span", { "data-number": cell.key }), second = make("span", { class: "quiet" });
    holder.append(make("div", {}, make("dt", {}, cell.title), make("dd", {}, first, second)));
    return (/** @type {Found} */ found) => {
      write(first, cell.value(found));
      write(second, cell.beside(found));
    };
  });
  const fill = () => fills.forEach((one) => one(store.view().shown.found));
  store.subscribe(fill);
  fill();
};
