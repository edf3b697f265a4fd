/* What stands on the line and in which words, measured: what lay.js places. */

/** @import { BoardData, Item } from "./types.js" */
/** @import { Thing } from "./lay.js" */
import { STRAIGHT } from "./fold.js";

/**
 * A thing with its words.
 * @typedef {object} Worded
 * @property {Thing} thing
 * @property {Item|null} item null for the instrument and the ends
 * @property {"box"|"tap"|"cable"|"joint"|"end"} role
 * @property {string} name
 * @property {string} state in words; "" for none
 * @property {boolean} pressed it is on, or heard
 * @property {boolean} small its name stands in two lines
 * @property {string} end whose end it is; "" for the instrument
 * @property {Item|null} after what an end comes after
 * @property {string[]} labels under a cable, the longest first
 * @property {Worded[]} inside
 */

/**
 * @typedef {object} Ruler how wide words are
 * @property {(text: string) => number} name
 * @property {(text: string) => number} small of a name in two lines
 * @property {(text: string) => number} bold of the name of an end
 * @property {(text: string) => number} state
 * @property {boolean} phone
 */

/** The widest a name may make a box [px]. */
const MOST_NAME = { phone: 132, desk: 230 };
/** The widest a name stands in one line [px]. */
const ONE_LINE = 170;

/**
 * The least width in which a name stands in two lines.
 * @param {string} name
 * @param {(text: string) => number} width
 */
export const inTwo = (name, width) => {
  const words = name.split(/\s+/u).filter(Boolean);
  if (words.length < 2) return width(name);
  return Math.min(...words.slice(1).map((_, i) => (
    Math.max(width(words.slice(0, i + 1).join(" ")), width(words.slice(i + 1).join(" "))))));
};

/** @param {string} name
 * @param {Ruler} ruler */
export const twoLines = (name, ruler) => ruler.phone || ruler.name(name) > ONE_LINE;

/**
 * @param {string} name
 * @param {string[]} states all that may stand under it
 * @param {Ruler} ruler
 */
const boxWidth = (name, states, ruler) => {
  const { phone } = ruler;
  const wanted = twoLines(name, ruler) ? inTwo(name, ruler.small) : ruler.name(name);
  const most = phone ? MOST_NAME.phone : MOST_NAME.desk;
  const inner = Math.max(Math.min(wanted, most), ...states.map(ruler.state));
  return Math.ceil(Math.max(inner + (phone ? 12 : 26), phone ? 50 : 64)) + 1;
};

/** How many boxes there are in a loop.
 * @param {Item[]} items
 * @returns {number} */
const countBoxes = (items) => items.reduce((sum, item) => (
  sum + (item.kind === "box" || item.kind === "loop" ? 1 : 0) + countBoxes(item.inside ?? [])), 0);

/**
 * The words under a box: now, on and off.
 * @param {Item} item
 * @param {boolean} on
 * @param {boolean} shut
 * @returns {{state: string, all: string[]}}
 */
const stateBelow = (item, on, shut) => {
  const out = shut ? `out · ${countBoxes(item.inside ?? [])}` : "out";
  const words = {
    box: ["on", item.bypass === "buffered" ? "off · buffered" : "off", "always on"],
    loop: ["in", out, "in"],
    split: ["splits off", "splits off", "splits off"],
    tap: ["hangs on", "hangs on", "hangs on"],
    cable: ["", "", ""], joint: ["", "", ""],
  }[item.kind];
  return item.s === undefined
    ? { state: words[2], all: [words[2]] } : { state: words[on ? 0 : 1], all: words.slice(0, 2) };
};

/**
 * @param {Item} item
 * @returns {string} "lead 6 m", without saying the length twice
 */
export const cableWords = (item) => {
  const length = item.lengthText ?? "";
  return item.name.endsWith(length) ? item.name : `${item.name} ${length}`;
};

/**
 * @param {string} key
 * @param {Partial<Thing>} more
 * @returns {Thing}
 */
const plainThing = (key, more) => ({
  key, kind: "box", width: 0, length: 0, labels: [], plus: false, ring: false, last: false,
  lane: null, titled: false, ...more,
});

/**
 * @typedef {object} Wanted what the words depend on
 * @property {BoardData} data
 * @property {Set<number>} on
 * @property {boolean} editable
 * @property {boolean} listens another end can be chosen
 * @property {boolean} shut loops that are out are shut
 * @property {Map<string, string>} lengths as the document has them, to say what is dragged
 * @property {Ruler} ruler
 */

/**
 * @param {string} key
 * @param {string} name
 * @param {string} end
 * @param {Item[]} before
 * @param {Wanted} wanted
 * @returns {Worded}
 */
const endThing = (key, name, end, before, { data, ruler, listens }) => {
  const several = key !== "instrument" && data.ends.length > 1;
  const here = several && data.at === end;
  const state = several ? (here ? "heard here" : listens ? "listen here" : "") : "";
  const words = several ? ["heard here", "listen here"] : [];
  const width = boxWidth(name, words, { ...ruler, name: ruler.bold, small: ruler.bold });
  const thing = plainThing(key, { width });
  return { thing, item: null, role: "end", name, state, pressed: here, small: twoLines(name, ruler), end, labels: [], after: before[before.length - 1] ?? null, inside: [] };
};

/**
 * @param {Item} item
 * @param {boolean} last
 * @param {Wanted} wanted
 * @returns {Worded}
 */
const wordedCable = (item, last, { editable, lengths, ruler }) => {
  const text = item.lengthText ?? "", cable = item.kind === "cable";
  const moved = lengths.has(item.key) && lengths.get(item.key) !== text;
  const said = cable && (moved || (item.length ?? 0) > STRAIGHT || !(item.wiring || item.laid));
  const more = !cable && item.gap === undefined && item.key === "more";
  const labels = more ? [item.name] : !said ? [] : (item.length ?? 0) > STRAIGHT ? [cableWords(item), text] : [text];
  const thing = plainThing(item.key, {
    kind: cable ? "cable" : "joint", length: item.length ?? 0, last, labels: labels.map(ruler.state),
    plus: editable && item.gap !== undefined, ring: editable && cable && item.at !== undefined,
  });
  const name = cable ? cableWords(item) : item.name;
  return { thing, item, role: cable ? "cable" : "joint", name, state: "", pressed: false, small: false, end: "", labels, after: null, inside: [] };
};

/**
 * @param {Item} item
 * @param {Wanted} wanted
 * @returns {Worded}
 */
const wordedTap = (item, { editable, ruler }) => {
  const labels = [[item.lengthText, item.ending].filter(Boolean).join(", ")];
  const thing = plainThing(item.key, {
    kind: "tap", width: boxWidth(item.name, ["hangs on"], ruler), length: item.length ?? 0,
    labels: labels.map(ruler.state), ring: editable && item.at !== undefined,
  });
  return {
    thing, item, role: "tap", name: item.name, state: "hangs on", pressed: false, small: twoLines(item.name, ruler),
    end: "", labels, after: null, inside: [],
  };
};

/**
 * @param {Item} item
 * @param {Wanted} wanted
 * @returns {Worded}
 */
const wordedBox = (item, wanted) => {
  const on = item.s === undefined || wanted.on.has(item.s);
  const loop = item.kind === "loop", shut = loop && !on && wanted.shut;
  const { state, all } = stateBelow(item, on, loop && wanted.shut);
  const open = item.kind === "split" || (loop && !shut);
  const inside = open ? wordedRow(item.inside ?? [], item, wanted) : [];
  const thing = plainThing(item.key, {
    width: boxWidth(item.name, all, wanted.ruler), lane: inside.length ? inside.map((one) => one.thing) : null,
    titled: open && Boolean(item.board),
  });
  return {
    thing, item, role: "box", name: item.name, state, pressed: on && item.s !== undefined,
    small: twoLines(item.name, wanted.ruler), end: "", labels: [], after: null, inside,
  };
};

/**
 * A row of items, and the end it comes to.
 * @param {Item[]} items
 * @param {Item|null} within the split or loop it stands in; null for the chain itself
 * @param {Wanted} wanted
 * @returns {Worded[]}
 */
const wordedRow = (items, within, wanted) => {
  const ends = !within || (within.kind === "split" && !within.openEnd);
  const row = items.map((item, i) => {
    if (item.kind === "cable" || item.kind === "joint") return wordedCable(item, ends && i > 0 && i === items.length - 1, wanted);
    return item.kind === "tap" ? wordedTap(item, wanted) : wordedBox(item, wanted);
  });
  if (!within) row.push(endThing("end", wanted.data.destination, wanted.data.at, items, wanted));
  else if (ends) row.push(endThing(`end:${within.name}`, within.end ?? "", within.turned ? within.end ?? "" : within.name, items, wanted));
  return row;
};

/**
 * The whole line in words.
 * @param {Wanted} wanted
 * @returns {Worded[]}
 */
export const worded = (wanted) => [
  endThing("instrument", wanted.data.instrument, "", [], wanted), ...wordedRow(wanted.data.chain, null, wanted)];

/**
 * Everything in the order of the signal.
 * @param {Worded[]} row
 * @returns {Worded[]}
 */
export const inOrder = (row) => row.flatMap((one) => [one, ...inOrder(one.inside)]);
