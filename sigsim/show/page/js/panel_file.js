/* "Show the file": the text of the board, what differs from the saved file marked, edited here too. */

import { disclosure } from "./disclosure.js";
import { make, write } from "./dom.js";
import { errorWords, sendEdit } from "./sending.js";
import { textEdit, wrongWords } from "./textedit.js";

/** @import { FileText, Server } from "./asked.js" */
/** @import { Store } from "./store.js" */
/** @import { Fault } from "./types.js" */

/** @param {number[]} lines
 * @returns {string} */
const changedWords = (lines) => {
  if (!lines.length) return "The same as the saved file.";
  return `Not saved yet (•): ${lines.length === 1 ? "line" : "lines"} ${lines.slice(0, 12).join(", ")}${lines.length > 12 ? " …" : ""}`;
};

/**
 * Copy all of a text; where the browser refuses, it is selected for the player to copy.
 * @param {HTMLTextAreaElement} area
 * @returns {Promise<string>} what was done
 */
export const copyAll = async (area) => {
  area.focus();
  area.select();
  try {
    await navigator.clipboard.writeText(area.value);
    return "Copied.";
  } catch {
    return "All of it is selected: copy it with Ctrl+C.";
  }
};

/** @param {Store} store
 * @returns {Fault[]} what was wrong with the last text */
const lastFaults = (store) => {
  const { fault } = store.view();
  return fault?.faults?.length ? fault.faults : (fault ? [fault] : []);
};

/**
 * @param {Store} store
 * @param {Server} server
 */
export const filePanel = (store, server) => disclosure("Show the file", (body) => {
  /** @type {FileText} */
  let known = { text: "", changed: [], saved: "" };
  const changed = make("p", { class: "hint", role: "status" });
  const fault = make("p", { class: "fault", role: "alert" });
  const apply = make("button", { type: "button", disabled: true }, "apply");
  const back = make("button", { type: "button", disabled: true }, "put back");
  const copy = make("button", { type: "button" }, "copy");
  const typed = () => area.value !== known.text;
  const state = () => {
    apply.disabled = !typed();
    back.disabled = !typed();
    write(changed, typed() ? "Typed here, not applied yet." : changedWords(known.changed));
  };
  const edit = textEdit("The board as it stands in the file. Ctrl+Enter applies.", () => {
    if (!typed()) right();
    state();
  });
  const { area } = edit;

  const right = () => {
    edit.wrong([]);
    write(fault, "");
  };
  const load = async () => {
    const clean = !typed();
    try {
      const text = await server.text();
      const other = text.text !== known.text;
      const still = clean && !typed();
      known = text;
      if (still) area.value = text.text;
      else if (other) write(fault, "The board has changed meanwhile: apply puts your text in its place, put back shows the board's.");
      edit.changes(typed() ? [] : text.changed);
      state();
    } catch (error) {
      write(fault, errorWords(error));
    }
  };
  const send = async () => {
    const text = area.value;
    const wrong = await sendEdit(store, () => ({ do: "text", text }));
    const faults = wrong ? lastFaults(store) : [];
    edit.wrong(faults);
    write(fault, faults.length ? wrongWords(faults.length) : wrong);
    if (wrong) return;
    known = { ...known, text };
    area.focus();
    load();
  };
  apply.addEventListener("click", send);
  back.addEventListener("click", () => {
    area.value = known.text;
    right();
    edit.changes(known.changed);
    state();
    area.focus();
  });
  copy.addEventListener("click", async () => write(changed, await copyAll(area)));
  area.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || !(event.ctrlKey || event.metaKey) || apply.disabled) return;
    event.preventDefault();
    send();
  });
  body.append(edit.element, fault, changed, make("div", { class: "buttons" }, apply, back, copy));
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
