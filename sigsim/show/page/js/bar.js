/* Undo and redo in words, as saved, save, and the buffer that one takes in hand. */

/** @import { View, Store } from "./store.js" */
/** @import { InHand } from "./hand.js" */
import { make, set, write } from "./dom.js";
import { inTurn } from "./turns.js";

/**
 * A button that keeps the focus when it has nothing to do.
 * @param {HTMLButtonElement} button
 * @param {boolean} usable
 */
const offer = (button, usable) => set(button, { "aria-disabled": usable ? null : "true" });

/**
 * @param {HTMLButtonElement} button
 * @param {string} text shortened on the screen where there is no room; its name is always whole
 */
const letter = (button, text) => {
  write(/** @type {Element} */ (button.firstElementChild), text);
  set(button, { title: text });
};

const BRIEF = 250; // [ms] of a click
const LINGER = 900; // [ms] that it shows after one

/**
 * As saved: what is held down shows it, what is let go ends it, by whatever hand.
 * @param {HTMLButtonElement} button
 * @param {(held: boolean) => void} compare
 */
const heldDown = (button, compare) => {
  let since = 0;
  let timer = 0;
  const release = () => {
    clearTimeout(timer);
    compare(false);
  };
  button.addEventListener("pointerdown", (event) => {
    if (event.button !== 0 || !event.isPrimary) return;
    button.setPointerCapture(event.pointerId);
    since = performance.now();
    clearTimeout(timer);
    compare(true);
  });
  /* Who only clicks it shall see it too. */
  ["pointerup", "lostpointercapture"].forEach((name) => button.addEventListener(name, () => {
    clearTimeout(timer);
    if (performance.now() - since > BRIEF) release(); else timer = window.setTimeout(release, LINGER);
  }));
  ["pointercancel", "blur"].forEach((name) => button.addEventListener(name, release));
  window.addEventListener("blur", release);
  button.addEventListener("contextmenu", (event) => event.preventDefault());
  button.addEventListener("keydown", (event) => {
    if (event.key !== " " && event.key !== "Enter") return;
    event.preventDefault();
    if (!event.repeat) compare(true);
  });
  button.addEventListener("keyup", (event) => {
    if (event.key === " " || event.key === "Enter") release();
  });
};

/**
 * @param {View} view
 * @returns {string}
 */
const saveWords = (view) => (view.answer?.unsaved || !view.saved ? "save" : "saved");

/**
 * @param {Store} store
 * @param {HTMLElement} holder
 * @param {unknown} _server edits go by the store
 * @param {InHand} hand
 */
export const barView = (store, holder, _server, hand) => {
  const undo = make("button", { type: "button", class: "undo" }, make("span"));
  const redo = make("button", { type: "button", class: "redo" }, make("span"));
  const asSaved = make("button", { type: "button", class: "as-saved", "aria-pressed": "false", title: "held down it shows the board as saved" }, "as saved");
  const save = make("button", { type: "button", class: "save" }, make("span"));
  const buffer = make("button", { type: "button", class: "take", "aria-pressed": "false" }, "+ buffer");
  holder.append(undo, redo, asSaved, buffer, save);

  /** @param {"undo"|"redo"} what */
  const step = (what) => inTurn(store, () => (
    store.view().answer?.[what] ? store.step(what) : Promise.resolve(false)));
  const bar = {
    element: holder,
    undo: () => step("undo"),
    redo: () => step("redo"),
    save: () => inTurn(store, () => (
      saveWords(store.view()) === "save" ? store.step("save") : Promise.resolve(true))),
  };

  const render = () => {
    const view = store.view();
    const { answer, hand: held } = view;
    letter(undo, answer?.undo ? `Undo: ${answer.undo}` : "Nothing to undo");
    letter(redo, answer?.redo ? `Redo: ${answer.redo}` : "Redo");
    letter(save, saveWords(view));
    if (answer?.file) set(save, { title: `${saveWords(view)}: ${answer.file}` });
    offer(undo, Boolean(answer?.undo));
    offer(redo, Boolean(answer?.redo));
    offer(save, saveWords(view) === "save");
    offer(asSaved, Boolean(view.saved));
    set(asSaved, { "aria-pressed": String(view.held) });
    set(buffer, { "aria-pressed": String(held !== null) });
  };

  undo.addEventListener("click", () => { bar.undo(); });
  redo.addEventListener("click", () => { bar.redo(); });
  save.addEventListener("click", () => { bar.save(); });
  buffer.addEventListener("click", () => hand.toggle());
  heldDown(asSaved, (held) => {
    if (held !== store.view().held) store.compare(held);
  });
  store.subscribe((view, before) => {
    if (view.answer !== before.answer || view.hand !== before.hand || view.held !== before.held
      || view.saved !== before.saved) render();
  });
  render();
  return bar;
};

/** @typedef {ReturnType<typeof barView>} Bar */
