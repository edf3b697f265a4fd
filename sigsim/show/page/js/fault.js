/* Why an edit was refused, where no field says it: it stands until the next answer. */

/** @import { Store } from "./store.js" */
import { write } from "./dom.js";

/** Whether a field shows these words itself.
 * @param {string} text */
const saidBeside = (text) => [...document.querySelectorAll("#drawer .fault, #panels .fault, dialog .fault")]
  .some((element) => element.textContent !== "" && (text.includes(element.textContent ?? "") || element.textContent?.includes(text)));

/**
 * @param {Store} store
 * @param {HTMLElement} holder
 * @returns {(text: string) => void} says something that is no fault
 */
export const faultView = (store, holder) => {
  /** @param {string} text */
  const say = (text) => {
    write(holder, text);
    holder.hidden = text === "";
  };
  holder.addEventListener("click", () => say(""));
  store.subscribe((view, before) => {
    if (view.fault === before.fault && view.answer === before.answer) return;
    const { fault } = view;
    if (!fault) say("");
    /* Fields say theirs once they have heard of it, a moment later. */
    else setTimeout(() => { if (store.view().fault === fault) say(saidBeside(fault.text) ? "" : fault.text); }, 50);
  });
  say("");
  return say;
};
