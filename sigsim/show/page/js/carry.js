/* A box in the hand: it follows the pointer, and a mark stands where it would land. */

/** @import { Store } from "./store.js" */
/** @import { Gesture, Line } from "./drag.js" */
/** @import { Point, Spot } from "./moving.js" */
/** @import { Item } from "./types.js" */
import { make } from "./dom.js";
import { boxesOf, levelOf, markAt, placeAt, stays } from "./moving.js";
import { inTurn, outdated, stuck } from "./turns.js";

const BRINK = 32;
const DRIFT = 8;

/**
 * @param {Element} element
 * @param {string} key
 * @returns {Spot} on the page, so that it stays right when the page scrolls
 */
const spotOf = (element, key) => {
  const { left, right, top, bottom } = element.getBoundingClientRect();
  return {
    key, left: left + window.scrollX, right: right + window.scrollX,
    top: top + window.scrollY, bottom: bottom + window.scrollY,
  };
};

/**
 * @param {HTMLElement} element
 * @param {number} x on the page
 * @param {number} y
 */
const shift = (element, x, y) => {
  element.style.transform = `translate(${Math.round(x)}px, ${Math.round(y)}px)`;
};

/**
 * How far the page goes on by itself with the hand at the edge of what is seen of the line, as long
 * as there is more of it.
 * @param {HTMLElement} line
 * @param {number} y of the hand in the window
 * @returns {number} in one frame [px]
 */
const drift = (line, y) => {
  const top = document.getElementById("top")?.getBoundingClientRect().bottom ?? 0;
  const bar = document.getElementById("bar")?.getBoundingClientRect().top ?? window.innerHeight;
  const bottom = bar > window.innerHeight / 2 ? bar : window.innerHeight;
  const whole = line.getBoundingClientRect();
  if (y < top + BRINK && whole.top < top) return -DRIFT;
  return y > bottom - BRINK && whole.bottom > bottom ? DRIFT : 0;
};

/**
 * The box as it looks, to follow the pointer.
 * @param {HTMLElement} box
 * @returns {HTMLElement}
 */
const likeness = (box) => {
  const { width, height } = box.getBoundingClientRect();
  const copy = make("div", { class: "carried", "aria-hidden": "true" });
  const lines = [...box.querySelectorAll("*")].filter((part) => !part.children.length && part.textContent);
  copy.append(...(lines.length ? lines : [box]).map((part) => make("span", {}, part.textContent ?? "")));
  copy.style.width = `${width}px`;
  copy.style.height = `${height}px`;
  return copy;
};

/**
 * @param {Item[]} boxes
 * @returns {string} which they are, and where in the file
 */
const placesOf = (boxes) => JSON.stringify(boxes.map((item) => [item.key, item.at]));

/**
 * @param {Store} store
 * @param {Line} line
 * @param {string} key of the box
 * @param {Point} from in the window
 * @returns {Gesture} one that goes nowhere, and says why, where it cannot be
 */
export const carryBox = (store, line, key, from) => {
  const { chain } = store.view().steady.data;
  const why = stays(chain, key);
  const found = levelOf(chain, key);
  if (why || !found) return stuck(store, why);
  const elements = new Map([...line.element.querySelectorAll("[data-key].box")].map(
    (element) => [/** @type {HTMLElement} */ (element).dataset.key, /** @type {HTMLElement} */ (element)]));
  const box = elements.get(key);
  const level = boxesOf(found.level);
  const own = level.findIndex((item) => item.key === key);
  const others = level.flatMap((item) => {
    const element = elements.get(item.key);
    return element && item.key !== key ? [spotOf(element, item.key)] : [];
  });
  if (!box || others.length !== level.length - 1) return stuck(store, "");

  const home = spotOf(box, key);
  const copy = likeness(box);
  const mark = make("div", { class: "drop-mark", hidden: true, "aria-hidden": "true" });
  document.body.append(copy, mark);
  /* Not a class: the line letters its boxes' classes anew. */
  box.style.opacity = "0.4";
  shift(copy, home.left, home.top);
  store.change({ dragging: true });
  const grip = { x: from.x + window.scrollX - home.left, y: from.y + window.scrollY - home.top };
  const { at } = found.item;
  let place = own;
  let pace = 0;

  /** The boxes are still those among which it was taken. */
  const same = () => {
    const other = levelOf(store.view().steady.data.chain, key);
    return other !== null && placesOf(boxesOf(other.level)) === placesOf(level);
  };
  const edit = () => ({ do: "move", at, by: place - own });
  /** @param {Point} hand in the window */
  const move = (hand) => {
    const point = { x: hand.x + window.scrollX, y: hand.y + window.scrollY };
    shift(copy, point.x - grip.x, point.y - grip.y);
    const wanted = placeAt(others, home, point);
    const stand = markAt(others, wanted, point);
    mark.hidden = wanted === own;
    shift(mark, stand.x - 2, stand.top - 4);
    mark.style.height = `${stand.bottom - stand.top + 8}px`;
    roll(hand);
    if (wanted === place) return;
    place = wanted;
    if (place !== own) store.preview(edit(), "ghost");
    else {
      /* What is still on its way must not come after. */
      store.restore();
      store.change({ dragging: true });
    }
  };
  /** At the edge of the window the page goes on under the hand.
   * @param {Point} hand */
  const roll = (hand) => {
    cancelAnimationFrame(pace);
    const far = drift(line.element, hand.y);
    const before = window.scrollY;
    if (far) window.scrollBy(0, far);
    if (window.scrollY !== before) pace = requestAnimationFrame(() => move(hand));
  };
  const leave = () => {
    cancelAnimationFrame(pace);
    copy.remove();
    mark.remove();
    box.style.opacity = "";
  };
  return {
    move,
    drop: () => {
      leave();
      if (place === own) store.restore();
      else {
        const turn = inTurn(store, () => (same() ? store.edit(edit()) : outdated(store)));
        turn.then((done) => done && line.focus(key));
      }
    },
    back: () => {
      leave();
      store.restore();
    },
    again: () => {
      if (!same()) return false;
      store.change({ dragging: true });
      if (place !== own) store.preview(edit(), "ghost");
      return true;
    },
    leave,
  };
};
