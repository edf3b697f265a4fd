/* The text of a board with its line numbers; marks at lines, and what is wrong beside its line. */

import { make, set } from "./dom.js";
import { freshId } from "./field.js";

/** @import { Fault } from "./types.js" */

const LINE_HEIGHT = 20;
const TEXT_PADDING = 6;
const NOTE = 26;
const MOST_ROWS = 26;

/**
 * @param {HTMLElement} holder
 * @param {number} lines
 * @param {Set<number>} changed
 * @param {Set<number>} wrong
 */
const numberLines = (holder, lines, changed, wrong) => {
  const numbers = Array.from({ length: lines }, (_, i) => i + 1);
  holder.replaceChildren(...numbers.map((n) => {
    const [sign, kind] = wrong.has(n) ? ["✕ ", "wrong"] : (changed.has(n) ? ["• ", "changed"] : ["", undefined]);
    return make("div", { class: kind }, `${sign}${n}`);
  }));
};

/**
 * @param {string} text of a fault: "board.toml, line 3: ..."
 * @param {number} line
 * @returns {string} what follows its place
 */
const withoutPlace = (text, line) => {
  const place = `line ${line}: `, at = text.indexOf(place);
  return at < 0 ? text : text.slice(at + place.length);
};

/**
 * @param {string} label
 * @param {() => void} typed
 */
export const textEdit = (label, typed) => {
  const id = freshId("text");
  const numbers = make("div", { class: "numbers", "aria-hidden": "true" });
  const area = make("textarea", { id, spellcheck: "false", autocomplete: "off", autocapitalize: "off", wrap: "off" });
  const notes = make("ul", { class: "notes plain", "aria-label": "What is wrong, by line" });
  const element = make("div", {}, make("label", { for: id, class: "hint" }, label), make("div", { class: "file" }, numbers, area, notes));
  /** @type {Fault[]} */
  let faults = [];
  /** @type {Set<number>} */
  let changed = new Set();

  /** Beside their lines; those that would cover each other stand under each other. */
  const place = () => {
    numbers.scrollTop = area.scrollTop;
    let lowest = -Infinity;
    [...notes.children].forEach((child, i) => {
      const note = /** @type {HTMLElement} */ (child);
      const top = Math.max(TEXT_PADDING + ((faults[i].line ?? 1) - 1) * LINE_HEIGHT - area.scrollTop, lowest);
      lowest = top + Math.max(NOTE, note.offsetHeight);
      note.style.top = `${top}px`;
    });
  };
  const mark = () => {
    const lines = area.value.split("\n").length;
    area.rows = Math.min(Math.max(lines, 6), MOST_ROWS);
    numberLines(numbers, lines, changed, new Set(faults.flatMap(({ line }) => (line ? [line] : []))));
    place();
  };
  /** @param {number} line */
  const goTo = (line) => {
    const lines = area.value.split("\n");
    const start = lines.slice(0, line - 1).reduce((sum, text) => sum + text.length + 1, 0);
    area.focus();
    area.setSelectionRange(start, start + (lines[line - 1] ?? "").length);
    area.scrollTop = Math.max(0, (line - 4) * LINE_HEIGHT);
  };
  /** @param {Fault} fault */
  const noteFor = (fault) => {
    const { line } = fault;
    if (!line) return make("li", { class: "fault" }, fault.text || fault.what);
    const button = make("button", { type: "button" }, `line ${line}`);
    button.addEventListener("click", () => goTo(line));
    return make("li", { class: "fault" }, button, " ", withoutPlace(fault.text || fault.what, line));
  };
  area.addEventListener("input", () => {
    changed = new Set();
    mark();
    typed();
  });
  area.addEventListener("scroll", place);
  return {
    element, area, mark,
    /** @param {number[]} lines */
    changes: (lines) => {
      changed = new Set(lines);
      mark();
    },
    /** @param {Fault[]} found */
    wrong: (found) => {
      faults = [...found].sort((a, b) => (a.line ?? 0) - (b.line ?? 0));
      notes.replaceChildren(...faults.map(noteFor));
      set(area, { "aria-invalid": faults.length ? "true" : null });
      mark();
    },
  };
};

/** @param {number} count of faults
 * @returns {string} */
export const wrongWords = (count) => (count ? `Not applied: ${count === 1 ? "one thing is" : `${count} things are`} wrong; see beside the text.` : "");
