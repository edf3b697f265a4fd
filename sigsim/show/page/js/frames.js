/* Frames around what stands below a row, with the titles of boards in them, and the "›" of rows. */

/** @import { Frame, Laid } from "./lay.js" */
/** @import { Worded } from "./things.js" */
import { draw, make, write } from "./dom.js";
import { attribute, standAt } from "./nodes.js";

/** @typedef {{rect: SVGRectElement, title: HTMLElement|null}} Framed */

/**
 * @param {Framed} found
 * @param {Frame} frame
 */
const placeFrame = ({ rect, title }, frame) => {
  attribute(rect, "x", String(Math.round(frame.x) + 0.5));
  attribute(rect, "y", String(Math.round(frame.y) + 0.5));
  attribute(rect, "width", String(Math.round(frame.width)));
  attribute(rect, "height", String(Math.round(frame.height)));
  if (!title) return;
  standAt(title, frame.x + 6, frame.y + 1);
  const most = `${Math.floor(frame.width - 12)}px`;
  if (title.style.maxWidth !== most) title.style.maxWidth = most;
};

/**
 * The title of a board inside; where it can be opened, a button for that.
 * @param {string} key
 * @param {boolean} linked
 */
const titleOf = (key, linked) => make(linked ? "button" : "span", {
  class: "board", "data-key": `board:${key}`, dir: "auto", tabindex: linked ? -1 : null, type: linked ? "button" : null });

/**
 * @param {SVGGElement} frames
 * @param {SVGGElement} marks
 * @param {boolean} opens whether a board inside can be opened
 */
export const framesIn = (frames, marks, opens) => {
  /** @type {Map<string, Framed>} */
  const known = new Map();

  /** @param {Laid} laid */
  const forget = (laid) => {
    const kept = new Set(laid.frames.map((frame) => frame.key));
    known.forEach(({ rect, title }, key) => {
      if (kept.has(key)) return;
      rect.remove();
      title?.remove();
      known.delete(key);
    });
  };

  /** @param {Laid} laid */
  const drawMarks = (laid) => {
    while (marks.children.length > laid.marks.length) marks.lastChild?.remove();
    laid.marks.forEach((at, i) => {
      const text = marks.children[i] ?? marks.appendChild(draw("text", {}, "›"));
      attribute(text, "x", String(Math.round(at.x)));
      attribute(text, "y", String(Math.round(at.y) + 5));
    });
  };

  return {
    /** Its own key is that of the box with "board:" before it.
     * @param {string} key of the box */
    title: (key) => known.get(key)?.title ?? null,
    /** @param {Laid} laid
     * @param {Worded[]} all */
    draw: (laid, all) => {
      forget(laid);
      laid.frames.forEach((frame) => {
        const item = all.find((one) => one.thing.key === frame.key)?.item;
        const found = known.get(frame.key) ?? { rect: frames.appendChild(draw("rect", { rx: 8 })), title: null };
        known.set(frame.key, found);
        if (item?.board) {
          const linked = opens && item.boardFile !== undefined;
          found.title ??= titleOf(frame.key, linked);
          write(found.title, item.board);
          if (linked) attribute(found.title, "aria-label", `${item.board}, edited in a window of its own`);
        }
        placeFrame(found, frame);
      });
      drawMarks(laid);
    },
  };
};
