/* The keys of the line, but for walking along it and switching, which the line does itself. */

/** @import { Bar } from "./bar.js" */
/** @import { InHand } from "./hand.js" */
/** @import { Store } from "./store.js" */
import { lengthening, moveBox } from "./arrows.js";
import { itemOf } from "./chain.js";
import { gapsByKey } from "./gapkeys.js";

/**
 * @typedef {object} KeyLine what is needed of the line
 * @property {HTMLElement} element
 * @property {(key: string) => void} focus
 * @property {(target: EventTarget|null) => string|null|undefined} keyOf
 * @property {() => string[]} order
 */

/**
 * @typedef {object} KeyOptions
 * @property {InHand} hand
 * @property {(key: string) => void} onParts Insert on a cable
 */

/** @type {Record<string, [number, boolean]>} */
const LENGTH_KEYS = {
  ArrowUp: [1, false], ArrowDown: [-1, false], PageUp: [1, true], PageDown: [-1, true],
};

/**
 * @param {EventTarget|null} target
 * @returns {boolean} something is being written there, which has an undo of its own
 */
const writing = (target) => target instanceof Element && target.matches(
  "textarea, [contenteditable], input:not([type=checkbox], [type=radio], [type=range], [type=button])");

/**
 * The letter on a key: by its place where the keyboard writes another alphabet.
 * @param {KeyboardEvent} event
 */
const letterOf = (event) => {
  const letter = event.key.toLowerCase();
  return /^[a-z]$/.test(letter) ? letter : event.code.replace(/^Key(?=[A-Z]$)/, "").toLowerCase();
};

/**
 * @param {KeyboardEvent} event with Control or Command
 * @returns {"undo"|"redo"|"save"|null}
 */
const wantedStep = (event) => {
  const letter = letterOf(event);
  if (letter === "s" && !event.shiftKey) return "save";
  if (writing(event.target)) return null;
  if (letter === "z") return event.shiftKey ? "redo" : "undo";
  return letter === "y" && !event.shiftKey ? "redo" : null;
};

/**
 * @param {Store} store
 * @param {KeyLine} line
 * @param {Bar} bar
 * @param {KeyOptions} options
 */
export const keys = (store, line, bar, { hand, onParts }) => {
  const lengthen = lengthening(store, line);
  const gaps = gapsByKey(store, line, hand);
  /** @type {string|null} */
  let compared = null;

  /** @param {KeyboardEvent} event
   * @param {string} key
   * @returns {boolean} */
  const plain = (event, key) => {
    if (store.view().hand && gaps.press(event, key)) return true;
    const length = LENGTH_KEYS[event.key];
    const item = itemOf(store.view().steady.data, key);
    if (length && item?.length !== undefined) lengthen(key, ...length);
    else if (event.key === "Insert" && item?.gap !== undefined) onParts(key);
    else if (event.key === "+" && !event.repeat) gaps.begin(key);
    else if (letterOf(event) === "b" && !event.shiftKey) {
      if (!event.repeat) {
        compared = key;
        store.compare(true);
      }
    } else return false;
    return true;
  };

  line.element.addEventListener("keydown", (event) => {
    const key = line.keyOf(event.target);
    if (event.isComposing || event.ctrlKey || event.metaKey || !key) return;
    if (!store.view().answer || store.view().dragging) return;
    const sideways = event.key === "ArrowLeft" || event.key === "ArrowRight";
    if (event.altKey && sideways) moveBox(store, line, key, event.key === "ArrowLeft" ? -1 : 1);
    else if (event.altKey || !plain(event, key)) return;
    event.preventDefault();
    event.stopPropagation();
  }, { capture: true });

  const release = () => {
    if (!store.view().held) return;
    store.compare(false);
    /* What is not on the saved board had to give the focus away. */
    if (compared && document.activeElement === document.body) line.focus(compared);
    compared = null;
  };
  window.addEventListener("keyup", (event) => { if (letterOf(event) === "b" && compared) release(); });
  window.addEventListener("blur", release);
  line.element.addEventListener("focusout", (event) => {
    if (compared && event.relatedTarget && !line.element.contains(/** @type {Node} */ (event.relatedTarget))) release();
  });

  line.element.addEventListener("click", (event) => {
    const thing = /** @type {Element} */ (event.target).closest(".gap[data-key], .cable[data-key], .joint[data-key]");
    const key = /** @type {HTMLElement|null} */ (thing)?.dataset.key;
    if (!key || !store.view().hand) return;
    event.preventDefault();
    event.stopPropagation();
    gaps.putIn(key);
  }, { capture: true });

  document.addEventListener("keydown", (event) => {
    if (event.defaultPrevented || document.querySelector("dialog[open]")) return;
    if (event.key === "Escape" && store.view().hand && !writing(event.target)) hand.drop();
    if (event.altKey || !(event.ctrlKey || event.metaKey)) return;
    const step = wantedStep(event);
    if (!step) return;
    event.preventDefault();
    bar[step]();
  });
};
