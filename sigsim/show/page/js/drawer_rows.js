/* The rows of a drawer, by kind of thing. Each row writes itself anew from what is shown; an edit
   is made when it is sent, from the place where the thing is then. */

import { itemOf, walk } from "./chain.js";
import { fieldRows } from "./drawer_fields.js";
import { buttonRow, choiceRow, textRow } from "./field.js";
import { make, set, write } from "./dom.js";
import { partWords } from "./picker.js";

/** @import { Details } from "./asked.js" */
/** @import { Thing } from "./chain.js" */
/** @import { FieldRow } from "./field.js" */
/** @import { View } from "./store.js" */
/** @import { At, Edit } from "./types.js" */

/** @typedef {{thing: Thing, view: View, details: Details|null}} Now */

/**
 * @typedef {object} DrawerRow
 * @property {HTMLElement} element
 * @property {(now: Now) => void} update
 */

/**
 * What rows do.
 * @typedef {object} Hands
 * @property {Now} now
 * @property {(edit: (at: At) => Edit) => Promise<string>} send with where the thing is now
 * @property {(number?: number) => void} toggle a switch, its own where none is said
 * @property {(kind: string, label: string, editOf: (at: At, part: string) => Edit) => void} choosePart opens the list of parts
 * @property {() => void} putIn opens the list of what can be put in here
 */

/**
 * @param {FieldRow} row
 * @param {(now: Now) => string} value
 * @returns {DrawerRow}
 */
const asRow = (row, value) => ({ element: row.element, update: (now) => row.update(value(now)) });

/** @param {Hands} hands
 * @param {string} label
 * @returns {DrawerRow} */
const nameRow = (hands, label) => asRow(
  textRow(label, hands.now.thing.name, async (text) => (text ? hands.send((at) => ({ do: "rename", at, name: text })) : "It wants a name.")),
  (now) => now.thing.name);

/** @param {Hands} hands
 * @returns {DrawerRow} */
const moveButtons = (hands) => {
  /** @param {number} by */
  const move = (by) => hands.send((at) => ({ do: "move", at, by }));
  const row = buttonRow([
    { words: "switch on", act: () => hands.toggle() },
    { words: "earlier", act: () => move(-1) },
    { words: "later", act: () => move(1) },
    { words: "take out", act: () => hands.send((at) => ({ do: "take-out", at })) },
  ]);
  const [onOff, earlier, later, out] = row.buttons;
  return {
    element: row.element,
    update: ({ thing, view }) => {
      const { item } = thing;
      const on = item?.s !== undefined && view.steady.on.has(item.s);
      set(onOff, { hidden: item?.s === undefined });
      const words = item?.kind === "loop" ? ["switch in", "switch out"] : ["switch on", "switch off"];
      write(onOff, words[Number(on)]);
      [earlier, later, out].forEach((button) => set(button, { hidden: thing.at === undefined || item?.kind === "cable" }));
    },
  };
};

/** @param {Hands} hands
 * @param {string} kind of part
 * @param {(at: At, part: string) => Edit} editOf
 * @param {(now: Now) => string} said
 * @returns {DrawerRow} */
const partRow = (hands, kind, editOf, said) => {
  const text = make("span", { class: "said" });
  const button = make("button", { type: "button" }, "another …");
  const label = { stage: "kind", instrument: "instrument", destination: "ends at", cable: "sort of cable" }[kind] ?? "part";
  set(button, { "aria-label": `another … ${label}` });
  button.addEventListener("click", () => hands.choosePart(kind, kind === "destination" ? "Another end" : `Another ${label}`, editOf));
  const element = make("div", { class: "row" }, make("span", { class: "label" }, label), make("span", { class: "with" }, text, button));
  return {
    element,
    update: (now) => {
      write(text, partWords(said(now)) || "of its own figures");
      button.hidden = now.thing.at === undefined;
    },
  };
};

/** @param {Hands} hands
 * @returns {DrawerRow} */
const loopButtons = (hands) => {
  /** What is heard stays so: the loop begins in where its box is on. */
  const around = async () => {
    const { thing, view } = hands.now;
    const heard = thing.item?.s === undefined || view.steady.on.has(thing.item.s);
    const wrong = await hands.send((at) => ({ do: "loop-around", at, name: `${thing.name} loop` }));
    if (wrong || !heard) return wrong;
    const now = hands.now;
    const loop = walk(now.view.steady.data.chain).find(({ inside }) => inside?.some(({ key }) => key === now.thing.key));
    if (loop?.s !== undefined) hands.toggle(loop.s);
    return wrong;
  };
  const row = buttonRow([
    { words: "make a loop around it", act: around },
    { words: "take the loop away, keep what is in it", act: () => hands.send((at) => ({ do: "loop-away", at })) },
  ]);
  return {
    element: row.element,
    update: ({ details }) => {
      const offers = details?.offers ?? [];
      row.element.hidden = !offers.some((word) => word.startsWith("loop-"));
      row.buttons[0].hidden = !offers.includes("loop-around");
      row.buttons[1].hidden = !offers.includes("loop-away");
    },
  };
};

/** @param {Hands} hands
 * @param {string} label
 * @returns {DrawerRow} */
const lengthRow = (hands, label) => asRow(
  textRow(label, hands.now.thing.item?.lengthText ?? "", (text) => hands.send((at) => ({ do: "length", at, length: text })),
    { hint: hands.now.thing.item?.laid ? "it follows from the layout; typed here, this stands instead" : "as you say it: 15 ft, 4.5 m, 30 cm" }),
  (now) => now.thing.item?.lengthText ?? "");

/** @param {Hands} hands
 * @returns {DrawerRow} */
const allPatches = (hands) => {
  const row = textRow("all patches", hands.now.thing.item?.lengthText ?? "",
    (text) => hands.send(() => ({ do: "all-lengths", length: text })), { hint: "changes every patch without a length of its own" });
  return {
    element: row.element,
    update: ({ thing }) => {
      row.element.hidden = !thing.item?.wiring;
      row.update(thing.item?.lengthText ?? "");
    },
  };
};

/** @param {Hands} hands
 * @returns {DrawerRow} */
const cableRow = (hands) => {
  /** @param {Now} now */
  const choices = (now) => [...new Set([...(now.details?.cables ?? []), ...walk(now.view.steady.data.chain).flatMap(({ cable }) => (cable ? [cable] : []))])]
    .map((name) => ({ value: name, words: name }));
  const row = choiceRow("which cable", hands.now.thing.item?.cable ?? "", choices(hands.now),
    (name) => hands.send((at) => ({ do: "cable", at, name })));
  return { element: row.element, update: (now) => row.update(now.thing.item?.cable ?? "", choices(now)) };
};

/** @param {Hands} hands
 * @returns {DrawerRow} */
const cableButtons = (hands) => {
  const row = buttonRow([
    { words: "put something in here …", act: () => hands.putIn() },
    { words: "take out", act: () => hands.send((at) => ({ do: "take-out", at })) },
  ]);
  return {
    element: row.element,
    update: ({ thing }) => {
      row.buttons[0].hidden = thing.item?.gap === undefined;
      row.buttons[1].hidden = thing.at === undefined || Boolean(thing.item?.unwritten);
    },
  };
};

/** @param {Hands} hands
 * @returns {DrawerRow} of a kind of cable: every piece of it */
const cablePart = (hands) => partRow(hands, "cable",
  (_, part) => ({ do: "cable-part", name: hands.now.thing.item?.cable ?? "", part }),
  (now) => now.details?.part ?? "");

/** @param {Now} now
 * @returns {string} */
const partSaid = (now) => now.details?.part ?? now.thing.item?.part ?? "";

/**
 * @param {Hands} hands
 * @returns {DrawerRow[]}
 */
export const rowsOf = (hands) => {
  const { thing } = hands.now;
  const { kind } = thing;
  const fields = [fieldRows(hands, true), fieldRows(hands, false)];
  if (kind === "instrument" || kind === "end") {
    if (thing.at === undefined) return [];
    const word = kind === "instrument" ? "instrument" : "destination";
    return [partRow(hands, word, (at, part) => ({ do: word, at, part }), partSaid), ...fields];
  }
  if (kind === "joint") return [cableButtons(hands)];
  if (kind === "cable" || kind === "tap") {
    if (thing.at === undefined) return [cableButtons(hands)];
    const rows = [lengthRow(hands, "length"), allPatches(hands), cableRow(hands), cablePart(hands), cableButtons(hands)];
    return [...(kind === "tap" ? [nameRow(hands, "name")] : []), ...rows, ...fields];
  }
  if (thing.at === undefined) return [moveButtons(hands)];
  const rest = [nameRow(hands, "name"), loopButtons(hands), fields[1]];
  if (kind !== "box") return [moveButtons(hands), fields[0], ...rest];
  return [moveButtons(hands), partRow(hands, "stage", (at, part) => ({ do: "part", at, part }), partSaid), fields[0], ...rest];
};

/**
 * Words for what cannot be changed here.
 * @param {Now} now
 * @returns {string}
 */
export const noteOf = ({ thing, view }) => {
  const { item } = thing;
  if (item?.kind === "loop" && item.boardFile) return `Inside stands the board "${item.board ?? item.name}" of the file ${item.boardFile}. It is changed in a window of its own: sigsim edit ${item.boardFile}`;
  if (thing.at !== undefined || itemOf(view.steady.data, thing.key)?.gap !== undefined) return "";
  const holder = walk(view.steady.data.chain).find((other) => other.boardFile && walk(other.inside ?? []).some(({ key }) => key === thing.key));
  if (holder) return `It stands on the board of the file ${holder.boardFile}, which is changed in a window of its own.`;
  return item?.kind === "cable" || thing.kind === "box" ? "It stands in no line of this file." : "";
};
