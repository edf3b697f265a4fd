/* What happened by itself: it is said, and can be undone, until something else is done. */

/** @import { Store } from "./store.js" */
import { make } from "./dom.js";
import { inTurn } from "./turns.js";

/**
 * @param {Store} store
 * @param {HTMLElement} holder whose changes are read out
 * @returns {(text: string) => void} says that the last step was made by itself
 */
export const noticeView = (store, holder) => {
  /** @type {string|null|undefined} */
  let step = null;
  const clear = () => holder.replaceChildren();
  store.subscribe(({ answer }) => {
    if (holder.childElementCount && answer?.undo !== step) clear();
  });
  return (text) => {
    step = store.view().answer?.undo;
    const undo = make("button", { type: "button" }, "Undo");
    const shut = make("button", { type: "button" }, "ok");
    undo.addEventListener("click", () => {
      clear();
      inTurn(store, () => store.step("undo"));
    });
    shut.addEventListener("click", clear);
    holder.replaceChildren(make("div", { class: "notice" }, make("p", {}, text), step ? undo : null, shut));
  };
};
