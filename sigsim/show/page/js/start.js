/* Without a file: what do you play, which pedals, how far to the amp. Then there is a board. */

import { freshId } from "./field.js";
import { make, set, write } from "./dom.js";
import { partsOf } from "./parts.js";
import { fitOf, partPicks, partWords } from "./picker.js";
import { errorWords } from "./sending.js";

/** @import { PartOffer, Server } from "./asked.js" */
/** @import { Pick } from "./picker.js" */
/** @import { Answer } from "./types.js" */

const MOST_PEDALS = 30;
const USUAL = "pedal-true-bypass";
const SURE = 3; // as fitOf counts: what a part is called, not what is said about it

/** @param {PartOffer} part
 * @returns {string} its name and the first words of what it is */
const shortWords = (part) => part.summary.split(/[:;]/)[0].trim() || partWords(part.part);

/**
 * @param {string} label
 * @param {PartOffer[]} parts
 * @param {string} value
 */
const partChoice = (label, parts, value) => {
  const id = freshId("start");
  const select = make("select", { id }, parts.map((part) => make("option", { value: part.part }, shortWords(part))));
  if (parts.some((part) => part.part === value)) select.value = value;
  return { element: make("div", { class: "row" }, make("label", { for: id }, label), select), select };
};

/**
 * The part that players would mean by a name; where not by the whole of it, by its last word that says one: "big fuzz".
 * @param {Pick[]} picks
 * @param {string} name
 * @returns {string} the usual pedal where nothing answers to it
 */
const meantPart = (picks, name) => {
  /** @param {string} asked
   * @param {number} least that it must fit */
  const best = (asked, least) => picks.map((pick) => ({ part: pick.edit.part ?? "", fit: fitOf(pick, asked) }))
    .reduce((a, b) => (b.fit > a.fit ? b : a), { part: "", fit: least - 1 }).part;
  if (!name.trim()) return USUAL;
  const words = name.trim().split(/\s+/).filter((word) => word.length > 2).reverse();
  return best(name, 1) || words.map((word) => best(word, SURE)).find((part) => part) || USUAL;
};

/**
 * @param {number} number from 1
 * @param {PartOffer[]} stages
 * @param {Pick[]} picks
 * @param {string} suggestions id of their list
 */
const pedalRow = (number, stages, picks, suggestions) => {
  const name = make("input", { type: "text", list: suggestions, autocomplete: "off", "aria-label": `pedal ${number}: its name`, placeholder: "fuzz, wah, tuner …" });
  const kind = make("select", { "aria-label": `pedal ${number}: its kind` }, stages.map((part) => make("option", { value: part.part }, partWords(part.part))));
  kind.value = USUAL;
  let chosen = false;
  name.addEventListener("input", () => {
    if (!chosen) kind.value = meantPart(picks, name.value);
  });
  kind.addEventListener("change", () => {
    chosen = true;
  });
  return { element: make("li", { class: "pedal" }, make("span", { "aria-hidden": "true" }, `${number}`), name, kind), name, kind };
};

/**
 * As many rows as pedals; what was typed in a row that goes comes back with it.
 * @param {PartOffer[]} stages
 */
const pedalRows = (stages) => {
  const picks = partPicks(stages, "stage", (part) => ({ do: "insert", part: part.part }));
  const suggestions = make("datalist", { id: freshId("suggestions") },
    [...new Set(stages.flatMap((part) => [...(part.role ? [part.role] : []), ...(part.aliases ?? [])]))].map((word) => make("option", { value: word })));
  const list = make("ol", { class: "plain" });
  /** @type {ReturnType<typeof pedalRow>[]} */
  const rows = [];
  let shown = 0;
  /** @param {number} count */
  const show = (count) => {
    while (rows.length < count) rows.push(pedalRow(rows.length + 1, stages, picks, suggestions.id));
    shown = count;
    list.replaceChildren(...rows.slice(0, count).map(({ element }) => element));
  };
  return {
    element: make("div", {}, list, suggestions), show,
    pedals: () => rows.slice(0, shown).map(({ name, kind }) => ({ name: name.value.trim(), part: kind.value })),
  };
};

/** @param {(count: number) => void} show */
const countRow = (show) => {
  const input = make("input", { id: "start-count", type: "number", min: 0, max: MOST_PEDALS, inputmode: "numeric" });
  const hint = make("p", { class: "hint", id: "start-count-hint" });
  set(input, { "aria-describedby": hint.id });
  input.value = "4";
  input.addEventListener("input", () => {
    const count = Number.parseInt(input.value, 10);
    const fits = Number.isInteger(count) && count >= 0 && count <= MOST_PEDALS;
    write(hint, fits ? "" : `A number from 0 to ${MOST_PEDALS}; more can be added on the line.`);
    if (fits) show(count);
  });
  show(4);
  return make("div", { class: "row" }, make("label", { for: "start-count" }, "How many pedals?"), input, hint);
};

/**
 * @param {string} label
 * @param {string} value
 * @param {string} [hint]
 */
const lengthField = (label, value, hint) => {
  const id = freshId("start");
  const said = hint ? make("p", { class: "hint", id: `${id}-hint` }, hint) : undefined;
  const control = make("input", { id, type: "text", autocomplete: "off", "aria-describedby": said?.id });
  control.value = value;
  return { element: make("div", { class: "row" }, make("label", { for: id }, label), control, said), control };
};

/**
 * @param {HTMLElement} holder
 * @param {Server} server
 * @param {(answer: Answer) => void} done
 */
export const startView = async (holder, server, done) => {
  const fault = make("p", { class: "fault", role: "alert" });
  /** @type {PartOffer[]} */
  let parts = [];
  try {
    parts = await partsOf(server);
  } catch (error) {
    write(fault, errorWords(error));
  }
  const instruments = parts.filter(({ kind }) => kind === "instrument");
  const amps = parts.filter(({ kind }) => kind === "destination");
  const instrument = partChoice("What do you play?", instruments, "");
  const amp = partChoice("Into what?", amps, "");
  const pedals = pedalRows(parts.filter(({ kind }) => kind === "stage"));
  const lead = lengthField("From the instrument to the first pedal", "5 m", "as you say it: 15 ft, 4.5 m");
  const toAmp = lengthField("From the last pedal to the amp", "6 m");
  const submit = make("button", { type: "submit" }, "make the board");
  const form = make("form", { class: "start", "aria-labelledby": "start-title", novalidate: true },
    make("h1", { id: "start-title" }, "Your board"),
    make("p", {}, "A few answers, and it is on the screen. Everything can be changed there."),
    instrument.element, countRow(pedals.show), pedals.element, lead.element, toAmp.element, amp.element, fault, make("div", { class: "buttons" }, submit));
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    submit.disabled = true;
    try {
      done(await server.create({
        instrument: instrument.select.value, destination: amp.select.value, pedals: pedals.pedals(),
        lead: lead.control.value.trim(), toAmp: toAmp.control.value.trim(),
      }));
    } catch (error) {
      write(fault, errorWords(error));
    }
    submit.disabled = false;
  });
  holder.replaceChildren(form);
  instrument.select.focus();
};
