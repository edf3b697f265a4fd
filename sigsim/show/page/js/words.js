/* Numbers and sentences as the program prints them (sigsim/show/render/text.py), but for the minus. */

/** @import { BoardData, Item } from "./types.js" */
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
 * Words with the sign that people write before a number below zero.
 * @param {string} text
 */
export const minus = (text) => text.replace(/(?<![\p{L}\p{N}\-–−.])-(?=\d)/gu, "−");

/**
 * A level without a sign unless negative, "-" where there is none.
 * @param {number} value [dB]
 */
export const decibel = (value) => (Number.isFinite(value) ? minus(tenth(value).toFixed(1)) : "-");

/**
 * A change of level with its sign, "-" where there is none.
 * @param {number} value [dB]
 */
export const signed = (value) => {
  if (!Number.isFinite(value)) return "-";
  const rounded = tenth(value);
  return (rounded < 0 ? "" : "+") + minus(rounded.toFixed(1));
};

/**
 * A positive number with so many decimals; what lies exactly between two goes to the even digit.
 * @param {number} value
 * @param {number} places
 */
const evenly = (value, places) => {
  const up = value.toFixed(places);
  // All digits of a tie: it has few.
  const [whole, rest] = value.toFixed(Math.min(places + 60, 100)).split(".");
  if (!/^50*$/.test(rest.slice(places))) return up;
  const down = places ? `${whole}.${rest.slice(0, places)}` : whole;
  return "02468".includes(down.charAt(down.length - 1)) ? down : up;
};

/**
 * A number with so many digits that count, none of them an idle nought.
 * @param {number} value
 * @param {number} digits
 */
const plainly = (value, digits) => {
  const [, exponent] = value.toExponential(17).split("e");
  return String(Number(evenly(value, Math.max(digits - 1 - Number(exponent), 0))));
};

/**
 * A frequency for a narrow place: `2.93k`, `870`, `none`.
 * @param {number|null} value [Hz]
 */
export const shortHertz = (value) => {
  if (value === null) return "none";
  return value >= 999.5 ? `${plainly(value / 1000, 3)}k` : evenly(value, 0);
};

/**
 * A resonance for a narrow place: `2.93k +6.2`, `none`.
 * @param {{frequency: number, height: number}|null} found
 */
export const peak = (found) => (
  found === null ? "none" : `${shortHertz(found.frequency)} ${signed(found.height)}`);

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
 * What each switch is called on the line.
 * @param {Item[]} items
 * @param {string[]} names changed
 */
const namesOf = (items, names) => {
  items.forEach((item) => {
    if (item.s !== undefined) names[item.s] = item.name;
    namesOf(item.inside ?? [], names);
  });
  return names;
};

/**
 * What is on and heard: up to three boxes are named, more are counted.
 * @param {Shown} shown
 * @param {number} [most] that are named
 */
export const stateWords = ({ data, model, on }, most = 3) => {
  const heard = model.heard(on).split(" ").filter((text) => text).map(Number);
  if (!heard.length) return `${data.allOff.charAt(0).toUpperCase()}${data.allOff.slice(1)}`;
  if (heard.length > most) return `${heard.length} on`;
  const names = namesOf(data.chain, [...data.switches]);
  return `${heard.map((i) => names[i]).join(", ")} on`;
};

/**
 * Words that begin a sentence.
 * @param {string} text
 */
const capital = (text) => {
  const first = String.fromCodePoint(text.codePointAt(0) ?? 32), large = first.toUpperCase();
  return large.length === first.length ? large + text.slice(first.length) : text;
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

/** @param {Shown} shown */
const whySilent = ({ data, on }) => (
  data.silences.find((why) => on.has(why.s) === why.on)?.text ?? data.silence);

/**
 * What is heard, as the page's first sentence.
 * @param {Shown} shown
 * @param {BoardData} data
 * @param {number} [named] how many boxes are named at most
 * @returns {{title: string, more: string, level: string}}
 */
export const sentence = (shown, data, named) => {
  const { treble, withLead, level, word } = shown.found;
  const state = stateWords(shown, named);
  const all = shown.model.heard(shown.on) ? state : data.allOff;
  const title = capital(data.ends.length > 1 ? `at ${data.at || data.destination}: ${all}` : state);
  if (Number.isNaN(treble)) return { title: `${title}: silent, ${whySilent(shown)}`, more: "", level: "" };
  const printed = decibel(treble), lead = decibel(withLead);
  const what = tenth(treble) < 0 ? `${decibel(-treble)} dB of treble gained` : `${printed} dB of treble lost`;
  const more = data.reference === "ideal" && lead !== printed ? `${lead} with its lead.` : "";
  return { title: `${title}: ${what}, ${word}.`, more, level: levelWords(data, level) };
};
