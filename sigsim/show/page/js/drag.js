/* The pointer on the line: the ring of a cable gives it another length, a box goes elsewhere. What
   becomes of it is said by a gesture; here is only when one begins and how it ends. */

/** @import { Store } from "./store.js" */
/** @import { Point } from "./moving.js" */
import { carryBox } from "./carry.js";
import { pullCable } from "./pull.js";

/**
 * @typedef {object} Line what is needed of the line
 * @property {HTMLElement} element
 * @property {(key: string) => void} focus
 * @property {() => number} scale [px/m]
 */

/**
 * @typedef {object} Gesture
 * @property {(point: Point) => void} move at most once in a frame
 * @property {() => void} drop
 * @property {() => void} back put everything back
 * @property {() => boolean} again the board was answered anew meanwhile: go on, or false where what
 *   is in the hand is no longer what it was
 * @property {() => void} leave only let go
 */

/**
 * @typedef {object} Press
 * @property {number} id of the pointer
 * @property {HTMLElement} thing
 * @property {string} key
 * @property {boolean} ring
 * @property {boolean} touch
 * @property {Point} from
 * @property {Point} now
 * @property {Gesture|null} gesture once it has begun
 * @property {boolean} moved it is no click or tap any more
 * @property {number} timer of the hold
 */

const CARRIED_OFF = 6;
const FINGER_SLIP = 10;
const FINGER_HOLD = 250;

/**
 * @param {Store} store
 * @param {Line} line
 * @returns {() => void} takes the gestures away again
 */
export const dragging = (store, line) => {
  const root = line.element;
  const controller = new AbortController();
  const { signal } = controller;
  /** @type {Press|null} */
  let press = null;
  let frame = 0;
  let swallow = false;

  /** @param {(gesture: Gesture) => void} [finish] */
  const end = (finish) => {
    if (!press) return;
    const { gesture, id, timer } = press;
    press = null;
    clearTimeout(timer);
    cancelAnimationFrame(frame);
    frame = 0;
    document.documentElement.classList.remove("in-hand", "pulling");
    if (root.hasPointerCapture(id)) root.releasePointerCapture(id);
    if (!gesture) return;
    /* A click that follows belongs to the gesture. */
    swallow = true;
    setTimeout(() => { swallow = false; }, 80);
    finish?.(gesture);
  };
  const back = () => end((gesture) => gesture.back());

  const begin = () => {
    if (!press) return;
    const { ring, key, from } = press;
    press.gesture = (ring ? pullCable : carryBox)(store, line, key, from);
    document.documentElement.classList.add("in-hand");
    document.documentElement.classList.toggle("pulling", ring);
  };

  /* A finger that only stayed long is a tap still; so the line takes the pointer when it moves. */
  const plan = () => {
    if (!press) return;
    if (!press.moved) root.setPointerCapture(press.id);
    press.moved = true;
    frame ||= requestAnimationFrame(() => {
      frame = 0;
      press?.gesture?.move(press.now);
    });
  };

  /** @param {PointerEvent} event */
  const down = (event) => {
    swallow = false;
    if (press) {
      if (event.pointerId !== press.id) back();
      return;
    }
    const target = /** @type {Element} */ (event.target);
    const thing = /** @type {HTMLElement|null} */ (target.closest(".ring[data-key], .box[data-key], .tap[data-key], .end[data-key]"));
    const view = store.view();
    if (!thing || !root.contains(thing) || !event.isPrimary || event.button !== 0 || view.held || !view.answer) return;
    const point = { x: event.clientX, y: event.clientY };
    const touch = event.pointerType !== "mouse";
    press = {
      id: event.pointerId, thing, key: thing.dataset.key ?? "", touch,
      ring: thing.classList.contains("ring"), from: point, now: point, gesture: null,
      moved: false, timer: 0,
    };
    if (touch && !press.ring) press.timer = window.setTimeout(begin, FINGER_HOLD);
  };

  /** @param {PointerEvent} event */
  const move = (event) => {
    if (!press || event.pointerId !== press.id) return;
    press.now = { x: event.clientX, y: event.clientY };
    const { from, now, touch, ring, gesture, moved } = press;
    const far = Math.hypot(now.x - from.x, now.y - from.y);
    if (!touch && !(event.buttons & 1)) back();
    else if (gesture) {
      if (moved || far >= CARRIED_OFF) plan();
    } else if (ring ? far >= 2 : !touch && far >= CARRIED_OFF) {
      begin();
      plan();
    } else if (touch && !ring && far > FINGER_SLIP) end();
  };

  /** @param {PointerEvent} event */
  const up = (event) => {
    if (!press || event.pointerId !== press.id) return;
    if (event.button !== 0) return;
    const point = { x: event.clientX, y: event.clientY };
    const { moved, thing } = press;
    end((gesture) => {
      if (moved) {
        gesture.move(point);
        gesture.drop();
      } else {
        /* Browsers make no click of a long touch. */
        gesture.back();
        thing.click();
      }
    });
  };

  /** @param {Event} event */
  const hold = (event) => { if (press?.gesture) event.preventDefault(); };

  document.addEventListener("pointerdown", down, { capture: true, signal });
  window.addEventListener("pointermove", move, { signal });
  window.addEventListener("pointerup", up, { signal });
  window.addEventListener("pointercancel", (event) => { if (event.pointerId === press?.id) back(); }, { signal });
  root.addEventListener("lostpointercapture", (event) => {
    /* A finger's own capture of the box ends when the line takes it over: that is no loss. */
    if (event.target === root && event.pointerId === press?.id) back();
  }, { signal });
  window.addEventListener("blur", back, { signal });
  window.addEventListener("keydown", (event) => {
    if (!press?.gesture || event.key !== "Escape") return;
    event.preventDefault();
    event.stopImmediatePropagation();
    back();
  }, { capture: true, signal });
  window.addEventListener("click", (event) => {
    if (!swallow || event.detail === 0) return;
    swallow = false;
    event.preventDefault();
    event.stopImmediatePropagation();
  }, { capture: true, signal });
  /* While something is in the hand: no scroll, no selected text, no menu of a long touch. */
  root.addEventListener("touchmove", hold, { passive: false, signal });
  document.addEventListener("selectstart", hold, { signal });
  document.addEventListener("dragstart", hold, { signal });
  document.addEventListener("contextmenu", (event) => { if (press) event.preventDefault(); }, { capture: true, signal });
  root.addEventListener("mousedown", (event) => {
    const ring = /** @type {Element} */ (event.target).closest(".ring[data-key]");
    if (!ring) return;
    /* The cable gets the focus, not the ring: arrows go on where the hand left it. */
    event.preventDefault();
    line.focus(/** @type {HTMLElement} */ (ring).dataset.key ?? "");
  }, { signal });
  const forget = store.subscribe((view, before) => {
    if (!press?.gesture || view.answer === before.answer) return;
    /* Not from within: the others are still being told of this change. */
    queueMicrotask(() => {
      if (press?.gesture && !press.gesture.again()) end((gesture) => gesture.leave());
    });
  });
  return () => {
    back();
    forget();
    controller.abort();
  };
};
