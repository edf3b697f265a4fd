/* Walking along the line by keys, with one Tab stop; and how wide its words are. */

/** @import { Ruler } from "./things.js" */
import { make } from "./dom.js";
import { narrow } from "./lay.js";
import { wordWidth } from "./letters.js";

/**
 * A ruler for words in the font of the line, with the room that a reader wants between letters. It
 * is read from a word beside the line: asking at every redraw would compute the style each time.
 * @param {HTMLElement} element
 * @param {() => void} changed the font, or that room, is another now
 * @returns {() => Ruler}
 */
export const ruler = (element, changed) => {
  const probe = make("span", { class: "probe", "aria-hidden": "true" }, "m m");
  element.before(probe);
  let family = "", letters = 0, spaces = 0;
  const read = () => {
    const style = getComputedStyle(probe), size = parseFloat(style.fontSize);
    const share = (/** @type {string} */ text) => (parseFloat(text) || 0) / size;
    const old = `${family} ${letters} ${spaces}`;
    [family, letters, spaces] = [style.fontFamily, share(style.letterSpacing), share(style.wordSpacing)];
    return old !== `${family} ${letters} ${spaces}`;
  };
  read();
  new ResizeObserver(() => { if (read()) changed(); }).observe(probe);
  /** @param {string} weight
   * @param {number} size [px] */
  const width = (weight, size) => (/** @type {string} */ text) => Math.ceil(wordWidth(`${weight}${size}px ${family}`, text)
    + size * (letters * text.length + spaces * (text.split(" ").length - 1)));
  return () => {
    const phone = narrow(window.innerWidth), size = phone ? 12 : 13.5;
    return { phone, small: width("", 12), bold: width("bold ", size), name: width("", size), state: width("bold ", 12) };
  };
};

/**
 * Scroll so that an element is not under what sticks to the window's edges.
 * @param {Element} element
 */
export const reveal = (element) => {
  element.scrollIntoView({ block: "nearest", inline: "nearest" });
  const cover = (/** @type {number} */ y) => {
    const { left, width } = element.getBoundingClientRect();
    const found = document.elementFromPoint(left + width / 2, y);
    return found && !found.closest(".line") && !found.contains(element) ? found.getBoundingClientRect() : null;
  };
  const rect = element.getBoundingClientRect();
  const over = cover(rect.top - 6), under = cover(rect.bottom + 6);
  if (over && over.bottom > rect.top - 8 && over.top <= rect.top) window.scrollBy(0, rect.top - 8 - over.bottom);
  else if (under && under.top < rect.bottom + 8 && under.bottom >= rect.bottom) window.scrollBy(0, rect.bottom + 8 - under.top);
};

/**
 * @param {HTMLElement} element
 * @param {{keys: () => string[], at: (key: string) => HTMLElement|null, within: (key: string) => string|null}} line
 *   `within` says what a thing stood in, as it was drawn last
 */
export const walking = (element, line) => {
  let stop = "";
  const keyOf = (/** @type {Element|null} */ target) => (
    target && element.contains(target) ? target.closest("[data-key]")?.getAttribute("data-key") ?? null : null);

  /** @param {string} key */
  const stopAt = (key) => {
    const old = line.at(stop);
    if (old && key !== stop) old.tabIndex = -1;
    stop = key;
    const now = line.at(key);
    if (now && now.tabIndex !== 0) now.tabIndex = 0;
  };
  element.addEventListener("focusin", (event) => {
    const key = keyOf(event.target instanceof Element ? event.target : null);
    if (key && line.at(key)) stopAt(key);
  });

  return {
    /** What has the focus, and what it stands in and beside, before it is drawn anew. */
    held: () => {
      const key = keyOf(document.activeElement);
      const within = [];
      for (let at = key; at; at = line.within(at)) within.push(at);
      /* What is gone gives the focus to what it stood in, else to what stood next to it. */
      const keys = line.keys(), at = key ? keys.indexOf(key) : -1;
      return { key, beside: [...within, ...(at < 0 ? [] : [...keys.slice(at + 1), ...keys.slice(0, at).reverse()])] };
    },
    /** After it is drawn: one Tab stop, and the focus where it was or in what held it.
     * @param {{key: string|null, beside: string[]}} held
     * @param {boolean} still whether the scroll is held */
    mend: (held, still) => {
      const keys = line.keys();
      stopAt(keys.includes(stop) ? stop : held.beside.find((key) => keys.includes(key)) ?? keys[0]);
      if (!held.key) return;
      const target = document.activeElement;
      if (target && keyOf(target)) {
        if (!still) reveal(target);
      } else line.at(stop)?.focus();
    },
    /** @param {string} name of a key
     * @returns {boolean} whether it is one that walks */
    step: (name) => {
      const keys = line.keys(), at = keys.indexOf(keyOf(document.activeElement) ?? stop);
      const to = { ArrowRight: at + 1, ArrowLeft: at - 1, Home: 0, End: keys.length - 1 }[name];
      if (to === undefined) return false;
      const target = line.at(keys[Math.min(Math.max(to, 0), keys.length - 1)]);
      target?.focus({ preventScroll: true });
      if (target) reveal(target);
      return true;
    },
  };
};
