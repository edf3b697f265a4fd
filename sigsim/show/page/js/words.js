/* Numbers and sentences as the program prints them: sigsim/show/render/text.py. */

/** @import { BoardData } from "./types.js" */
/** @import { Shown } from "./store.js" */

/**
 * A value to one decimal; what lies exactly between two goes to the even digit, as in Python.
 * @param {number} value
 */
export const tenth = (value) => {
  const quarters = value * 4;
  if (Number.isInteger(quarters) && quarters % 2 !== 0) {
    const below = Math.floor(value * 10);
    return (below % 2 === 0 ? below : below + 1) / 10 + 0;
  }
  return Number(value.toFixed(1)) + 0;
};

/**
 * A level without a sign unless negative, "-" where there is none.
 * @param {number} value [dB]
 */
export const decibel = (value) => (Number.isFinite(value) ? tenth(value).toFixed(1) : "-");

/**
 * A change of level with its sign, "-" where there is none.
 * @param {number} value [dB]
 */
export const signed = (value) => {
  if (!Number.isFinite(value)) return "-";
  const rounded = tenth(value);
  return (rounded < 0 ? "" : "+") + rounded.toFixed(1);
};

/**
 * A frequency for a narrow place: `2.93k`, `870`, `none`.
 * @param {number|null} value [Hz]
 */
export const shortHertz = (value) => {
  if (value === null) return "none";
  return value >= 999.5 ? `${Number((value / 1000).toPrecision(3))}k` : value.toFixed(0);
};

/**
 * A resonance for a narrow place: `2.93k +6.2`, `none`.
 * @param {{frequency: number, height: number}|null} found
 */
export const peak = (found) => (
  found === null ? "none" : `${shortHertz(found.frequency)} ${signed(found.height)}`);

/**
 * A number with so many digits that count, none of them an idle nought.
 * @param {number} value
 * @param {number} digits
 */
const plainly = (value, digits) => String(Number(value.toPrecision(digits)));

const INCHES = 0.0254, FEET = 0.3048;

/**
 * A length as Python's `length_text` has it; with a unit, in that unit.
 * @param {number} length [m]
 * @param {string} [unit] "m", "cm", "ft", "in"
 */
export const metres = (length, unit) => {
  if (unit === "ft") return `${plainly(length / FEET, 4)} ft`;
  if (unit === "in") return `${plainly(length / INCHES, 4)} in`;
  const small = unit === undefined ? length > 0 && length < 0.995 : unit === "cm";
  return small ? `${plainly(length * 100, 3)} cm` : `${plainly(length, 4)} m`;
};

/**
 * @param {BoardData} data
 * @param {Set<number>} on
 */
const namesOn = (data, on) => data.switches.filter((_, i) => on.has(i));

/**
 * What is on: up to three boxes are named, more are counted.
 * @param {Shown} shown
 */
export const stateWords = ({ data, on }) => {
  const names = namesOn(data, on);
  if (!names.length) return "All off";
  return names.length > 3 ? `${names.length} on` : `${names.join(", ")} on`;
};

/**
 * A change of level that must be said: "3.6 dB louder", else "".
 * @param {BoardData} data
 * @param {number} change [dB]
 */
const levelWords = (data, change) => {
  if (!(Math.abs(change) >= data.levelSaid)) return "";
  return `${decibel(Math.abs(change))} dB ${change > 0 ? "louder" : "softer"}`;
};

/**
 * What is heard, as the page's first sentence.
 * @param {Shown} shown
 * @param {BoardData} data
 * @returns {{title: string, more: string, level: string}}
 */
export const sentence = (shown, data) => {
  const { treble, withLead, level, word } = shown.found;
  const state = stateWords(shown);
  const title = data.ends.length > 1
    ? `at ${data.at || data.destination}: ${shown.on.size ? state : data.allOff}` : state;
  if (Number.isNaN(treble)) return { title: `${title}: silent, ${data.silence}`, more: "", level: "" };
  const printed = decibel(treble), lead = decibel(withLead);
  const what = tenth(treble) < 0 ? `${decibel(-treble)} dB of treble gained` : `${printed} dB of treble lost`;
  const more = data.reference === "ideal" && lead !== printed ? `${lead} with its lead.` : "";
  return { title: `${title}: ${what}, ${word}.`, more, level: levelWords(data, level) };
};
