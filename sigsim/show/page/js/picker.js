/* A list with a search over players' words: arrow through it to preview, Enter keeps, Escape goes back. */

import { make, set, write } from "./dom.js";
import { freshId } from "./field.js";

/** @import { PartOffer } from "./asked.js" */
/** @import { Edit } from "./types.js" */

/**
 * @typedef {object} Pick
 * @property {string} words what is seen
 * @property {string} [more] smaller, under it
 * @property {string} find words by which it is found beside those seen
 * @property {string} group heading that it stands under
 * @property {Edit} edit
 */

/**
 * @typedef {object} PickerOptions
 * @property {string} label
 * @property {string} keep words of the button: "put in"
 * @property {Pick[]} picks
 * @property {(pick: Pick|null) => void} preview null puts back
 * @property {(pick: Pick) => Promise<string>} take what is wrong; "" when it was done
 * @property {() => void} leave
 */

const HOVER_REST = 150;

/** @param {string} text */
const folded = (text) => text.toLowerCase().normalize("NFKD").replace(/[\u0300-\u036f]/g, "").replace(/[-_/]+/g, " ").trim();

/**
 * How well a pick answers to what was typed: 0 not at all; what begins with it comes first.
 * @param {Pick} pick
 * @param {string} asked
 * @returns {number}
 */
export const fitOf = (pick, asked) => {
  const query = folded(asked);
  if (!query) return 1;
  const seen = folded(pick.words), all = `${seen} ${folded(pick.find)} ${folded(pick.more ?? "")} ${folded(pick.group)}`;
  if (!query.split(/\s+/).every((word) => all.includes(word))) return 0;
  if (seen.split(" ").includes(query)) return 5;
  if (seen.startsWith(query)) return 4;
  if (folded(pick.find).split(", ").some((name) => name === query) || seen.includes(query)) return 3;
  return folded(pick.find).includes(query) ? 2 : 1;
};

/** What a player calls a part: its name without what only its papers say.
 * @param {string} part */
export const partWords = (part) => part.replaceAll("-", " ").replace(/ (low|high) impedance$/, "");

/**
 * @param {PartOffer[]} parts
 * @param {string} kind of part
 * @param {(part: PartOffer) => Edit} editOf
 * @returns {Pick[]}
 */
export const partPicks = (parts, kind, editOf) => parts.filter((part) => part.kind === kind).map((part) => ({
  words: partWords(part.part), more: part.summary, find: (part.aliases ?? []).join(", "),
  group: part.role || { stage: "pedals", cable: "cables", instrument: "instruments", destination: "amps and other inputs" }[kind] || kind,
  edit: editOf(part),
}));

/**
 * Options under the headings of their groups; groups come in the order of their best option.
 * @param {Pick[]} picks
 * @param {string} asked
 */
const sortedGroups = (picks, asked) => {
  const fitting = picks.map((pick, i) => ({ pick, i, fit: fitOf(pick, asked) })).filter(({ fit }) => fit > 0);
  fitting.sort((a, b) => b.fit - a.fit || a.i - b.i);
  /** @type {Map<string, Pick[]>} */
  const groups = new Map();
  fitting.forEach(({ pick }) => groups.set(pick.group, [...(groups.get(pick.group) ?? []), pick]));
  return groups;
};

/** @param {PickerOptions} options */
const pickerParts = (options) => {
  const id = freshId("picker");
  const box = make("div", { role: "listbox", id: `${id}-list`, "aria-label": options.label, class: "picks" });
  const input = make("input", {
    id, type: "text", role: "combobox", autocomplete: "off", spellcheck: "false", "aria-expanded": "true",
    "aria-controls": box.id, "aria-autocomplete": "list", placeholder: "search: fuzz, wah, tuner …",
  });
  const status = make("p", { class: "hint", role: "status" });
  const fault = make("p", { class: "fault", role: "alert" });
  const keep = make("button", { type: "button", disabled: true }, options.keep);
  const leave = make("button", { type: "button" }, "cancel");
  const element = make("div", { class: "picker" },
    make("div", { class: "asked" }, make("label", { for: id }, options.label), leave), make("div", { class: "asked" }, input, keep), box, status, fault);
  return { id, box, input, status, fault, keep, leave, element };
};

/**
 * @param {PickerOptions} options
 * @returns {{element: HTMLElement, focus: () => void, say: (words: string) => void}}
 */
export const picker = (options) => {
  const { id, box, input, status, fault, keep, leave, element } = pickerParts(options);
  /** @type {{pick: Pick, row: HTMLElement}[]} */
  let shown = [];
  let active = -1;
  let hovering = 0;
  /** @param {string} words */
  const say = (words) => write(fault, words);

  /** @param {number} index
   * @param {boolean} [scroll] */
  const activate = (index, scroll = true) => {
    active = index;
    shown.forEach(({ row }, i) => set(row, { "aria-selected": String(i === index) }));
    const now = shown[index];
    set(input, { "aria-activedescendant": now?.row.id });
    keep.disabled = !now;
    set(keep, { "aria-label": now ? `${options.keep}: ${now.pick.words}` : null });
    if (scroll) now?.row.scrollIntoView({ block: "nearest" });
    say("");
    options.preview(now?.pick ?? null);
  };
  const take = async () => {
    const now = shown[active] ?? (shown.length === 1 ? shown[0] : undefined);
    if (now) say(await options.take(now.pick));
  };
  /** @param {Pick} pick
   * @param {number} index */
  const optionRow = (pick, index) => {
    const row = make("div", { role: "option", id: `${id}-${index}`, "aria-selected": "false", class: "pick" }, make("span", {}, pick.words), pick.more && make("small", {}, pick.more));
    /* Only a mouse that moves means a row: one at rest has the list change and roll under it. */
    row.addEventListener("pointermove", (event) => {
      window.clearTimeout(hovering);
      if (event.pointerType === "mouse" && active !== index) hovering = window.setTimeout(() => activate(index, false), HOVER_REST);
    });
    /* A finger has no hovering: its first tap previews, the second one or the button keeps. */
    row.addEventListener("pointerdown", (event) => event.preventDefault());
    row.addEventListener("click", (event) => {
      window.clearTimeout(hovering);
      const finger = /** @type {PointerEvent} */ (event).pointerType === "touch" && active !== index;
      if (active !== index) activate(index);
      if (!finger) take();
    });
    return row;
  };
  const list = () => {
    window.clearTimeout(hovering);
    shown = [];
    const groups = sortedGroups(options.picks, input.value);
    box.replaceChildren(...[...groups].map(([name, picks]) => {
      const heading = make("div", { class: "group", id: `${id}-group-${shown.length}`, role: "presentation" }, name);
      const rows = picks.map((pick) => {
        const row = optionRow(pick, shown.length);
        shown.push({ pick, row });
        return row;
      });
      return make("div", { role: "group", "aria-labelledby": heading.id }, heading, rows);
    }));
    if (shown.length) box.removeAttribute("hidden"); else set(box, { hidden: true });
    write(status, shown.length ? "" : "Nothing is called that. Another word? An empty field shows all.");
    activate(-1);
  };
  box.addEventListener("pointerleave", () => window.clearTimeout(hovering));
  input.addEventListener("input", list);
  input.addEventListener("keydown", (event) => {
    const by = { ArrowDown: 1, ArrowUp: -1, PageDown: 6, PageUp: -6 }[event.key];
    if (by) {
      event.preventDefault();
      window.clearTimeout(hovering);
      if (shown.length) activate(Math.min(shown.length - 1, Math.max(0, active + by)));
    } else if (event.key === "Enter" && !event.isComposing) {
      event.preventDefault();
      if (active < 0 && shown.length) activate(0);
      else take();
    }
  });
  element.addEventListener("keydown", (event) => {
    if (event.key !== "Escape") return;
    event.preventDefault();
    event.stopPropagation();
    options.leave();
  });
  keep.addEventListener("click", take);
  leave.addEventListener("click", options.leave);
  list();
  return { element, focus: () => input.focus(), say };
};
