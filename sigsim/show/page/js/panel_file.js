/* "Show the file": the text of the board with its line numbers, what differs from the saved file
   marked, edited here too; what is wrong stands beside its line. */

import { disclosure } from "./disclosure.js";
import { make, set, write } from "./dom.js";
import { errorWords, sendEdit } from "./sending.js";

/** @import { FileText, Server } from "./asked.js" */
/** @import { Store } from "./store.js" */
/** @import { Fault } from "./types.js" */

const LINE = 20;
const PADDING = 6;
const NOTE = 22;

/** @param {string} text */
const countLines = (text) => text.split("\n").length;

const fileParts = () => {
  const numbers = make("div", { class: "numbers", "aria-hidden": "true" });
  const area = make("textarea", { id: "file-text", spellcheck: "false", autocomplete: "off", wrap: "off", "aria-describedby": "file-changed" });
  const notes = make("ul", { class: "notes plain" });
  const changed = make("p", { class: "hint", id: "file-changed", role: "status" });
  const fault = make("p", { class: "fault", role: "alert" });
  const apply = make("button", { type: "button", disabled: true }, "apply");
  const back = make("button", { type: "button", disabled: true }, "put back");
  const copy = make("button", { type: "button" }, "copy");
  return { numbers, area, notes, changed, fault, apply, back, copy };
};

/**
 * Line numbers beside a text, those of changed lines marked, those of faults too.
 * @param {HTMLElement} holder
 * @param {number} lines
 * @param {Set<number>} changed
 * @param {Set<number>} wrong
 */
const numberLines = (holder, lines, changed, wrong) => {
  const words = Array.from({ length: lines }, (_, i) => i + 1);
  holder.replaceChildren(...words.map((n) => make("div", {
    class: `${changed.has(n) ? "changed" : ""}${wrong.has(n) ? " wrong" : ""}`.trim() || undefined,
  }, `${wrong.has(n) ? "✕ " : (changed.has(n) ? "• " : "")}${n}`)));
};

/** @param {number[]} lines
 * @returns {string} */
const changedWords = (lines) => {
  if (!lines.length) return "The same as the saved file.";
  const shown = lines.slice(0, 12).join(", ");
  return `Not saved yet (•): ${lines.length === 1 ? "line" : "lines"} ${shown}${lines.length > 12 ? " …" : ""}`;
};

/**
 * @param {Store} store
 * @param {Server} server
 */
export const filePanel = (store, server) => disclosure("Show the file", (body) => {
  const parts = fileParts();
  const { numbers, area, notes } = parts;
  /** @type {FileText} */
  let known = { text: "", changed: [], saved: "" };
  /** @type {Fault[]} */
  let faults = [];
  const typed = () => area.value !== known.text;
  const marks = () => {
    const lines = countLines(area.value);
    const wrong = new Set(faults.flatMap((fault) => (fault.line ? [fault.line] : [])));
    numberLines(numbers, lines, typed() ? new Set() : new Set(known.changed), wrong);
    area.rows = Math.min(Math.max(lines, 6), 26);
    parts.apply.disabled = !typed();
    parts.back.disabled = !typed();
    write(parts.changed, typed() ? "Typed here, not applied yet." : changedWords(known.changed));
  };
  /** Beside their lines; those that would cover each other stand under each other. */
  const place = () => {
    numbers.scrollTop = area.scrollTop;
    let lowest = -Infinity;
    [...notes.children].forEach((element, i) => {
      const at = PADDING + ((faults[i].line ?? 1) - 1) * LINE - area.scrollTop;
      const top = Math.max(at, lowest);
      lowest = top + Math.max(NOTE, /** @type {HTMLElement} */ (element).offsetHeight);
      /** @type {HTMLElement} */ (element).style.top = `${top}px`;
    });
  };
  /** @param {number} line */
  const goTo = (line) => {
    const before = area.value.split("\n").slice(0, line - 1).join("\n").length + (line > 1 ? 1 : 0);
    area.focus();
    area.setSelectionRange(before, before + (area.value.split("\n")[line - 1] ?? "").length);
    area.scrollTop = Math.max(0, (line - 4) * LINE);
  };
  /** @param {Fault[]} found */
  const showFaults = (found) => {
    faults = [...found].sort((a, b) => (a.line ?? 0) - (b.line ?? 0));
    notes.replaceChildren(...faults.map((fault) => {
      const line = fault.line;
      const text = fault.text || fault.what;
      if (!line) return make("li", {}, text);
      const button = make("button", { type: "button" }, `line ${line}`);
      button.addEventListener("click", () => goTo(line));
      return make("li", {}, button, " ", text);
    }));
    set(area, { "aria-invalid": faults.length ? "true" : null });
    write(parts.fault, faults.length ? `Not applied: ${faults.length === 1 ? "one thing is" : `${faults.length} things are`} wrong, see beside the text.` : "");
    marks();
    place();
  };
  const load = async () => {
    const clean = !typed();
    try {
      const text = await server.text();
      const other = text.text !== known.text;
      known = text;
      if (clean) area.value = text.text;
      else if (other) write(parts.fault, "The board has changed meanwhile: apply puts your text in its place, put back shows the board's.");
      marks();
      place();
    } catch (error) {
      write(parts.fault, errorWords(error));
    }
  };
  const apply = async () => {
    const text = area.value;
    const wrong = await sendEdit(store, () => ({ do: "text", text }));
    if (wrong) {
      const fault = store.view().fault;
      const more = /** @type {{faults?: Fault[]}} */ (fault ?? {}).faults;
      if (fault) showFaults(more?.length ? more : [fault]);
      else write(parts.fault, wrong);
      return;
    }
    known = { ...known, text };
    showFaults([]);
    load();
  };
  parts.apply.addEventListener("click", apply);
  parts.back.addEventListener("click", () => {
    area.value = known.text;
    showFaults([]);
    area.focus();
  });
  parts.copy.addEventListener("click", async () => {
    area.select();
    try {
      await navigator.clipboard.writeText(area.value);
      write(parts.changed, "Copied.");
    } catch {
      write(parts.changed, "All of it is selected: copy it with Ctrl+C.");
    }
  });
  area.addEventListener("input", () => {
    marks();
    place();
  });
  area.addEventListener("scroll", place);
  area.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || !(event.ctrlKey || event.metaKey) || parts.apply.disabled) return;
    event.preventDefault();
    apply();
  });
  body.append(make("label", { for: "file-text", class: "hint" }, "The board as it stands in the file (TOML). Ctrl+Enter applies."),
    make("div", { class: "file" }, numbers, area, notes), parts.fault, parts.changed, make("div", { class: "buttons" }, parts.apply, parts.back, parts.copy));
  /** @type {string|null} */
  let shown = null;
  return () => {
    const { answer } = store.view();
    const wanted = `${answer?.revision} ${answer?.unsaved}`;
    if (wanted === shown) return;
    shown = wanted;
    load();
  };
});
