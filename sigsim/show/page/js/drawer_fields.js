/* What the server says may be changed of a thing: knobs, choices, yes or no. */

import { keptRows } from "./disclosure.js";
import { make } from "./dom.js";
import { choiceRow, knobRow, textRow } from "./field.js";

/** @import { Choice, Field } from "./asked.js" */
/** @import { DrawerRow, Hands } from "./drawer_rows.js" */
/** @import { FieldRow } from "./field.js" */

/* Short enough for the drawer, where the long words of the manual do not fit. */
const BYPASS = /** @type {Record<string, string>} */ ({
  true: "a piece of wire (true bypass)", buffered: "keeps its buffer in", hardwire: "its input stays connected",
});
const YES_NO = [{ value: "true", words: "yes" }, { value: "false", words: "no" }];

/** What holds, written or not.
 * @param {Field} field
 * @returns {string} */
const holding = (field) => {
  const value = field.value ?? field.standard ?? "";
  if (field.kind === "switch") return String(value === true || value === "true" || value === "yes");
  return String(value);
};

/** @param {Field} field
 * @returns {Choice[]} */
const choicesOf = (field) => {
  if (field.kind === "switch") return YES_NO;
  const choices = (field.choices ?? []).map(({ value, words }) => ({ value, words: (field.key === "bypass" && BYPASS[value]) || words }));
  return choices.some(({ value }) => value === holding(field)) ? choices : [{ value: "", words: "not said" }, ...choices];
};

/** @param {Field} field
 * @returns {string} what its row shows */
const shownIn = (field) => {
  const value = holding(field);
  return field.kind === "choice" && !field.choices?.some((choice) => choice.value === value) ? "" : value;
};

/**
 * @param {Hands} hands
 * @param {Field} field
 * @returns {FieldRow}
 */
const fieldRow = (hands, field) => {
  /** @param {string} text */
  const send = (text) => hands.send((at) => {
    const value = text === "" ? null : (field.kind === "switch" ? text === "true" : text);
    return { do: "set", at, keys: { [field.key]: value } };
  });
  if (field.kind === "knob") return knobRow(field.words, shownIn(field), send);
  if (field.kind === "text") return textRow(field.words, shownIn(field), send);
  return choiceRow(field.words, shownIn(field), choicesOf(field), send);
};

/** A player looks for these first.
 * @param {Field} field */
const isNear = (field) => field.kind === "knob" || field.key === "bypass";

/**
 * What else may be changed, as the server says; a field that stays is kept, with its focus.
 * @param {Hands} hands
 * @param {boolean} near those that a player looks for first, or the rest, folded away
 * @returns {DrawerRow}
 */
export const fieldRows = (hands, near) => {
  const holder = make("div", { class: "fields" });
  const element = near ? holder : make("details", { class: "papers", hidden: true }, make("summary", {}, "more about it"), holder);
  const rowsFor = keptRows(holder, (/** @type {Field} */ field) => `${field.kind} ${field.key}`, (field) => {
    const row = fieldRow(hands, field);
    return { element: row.element, update: (/** @type {Field} */ now) => row.update(shownIn(now), choicesOf(now)) };
  });
  return {
    element,
    update: ({ details }) => {
      if (!details) return;
      const fields = details.fields.filter((field) => isNear(field) === near);
      rowsFor(fields);
      element.hidden = fields.length === 0;
    },
  };
};
