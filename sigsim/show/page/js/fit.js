/* How high the curve is: what the line leaves of the first screen. The line asks for its room as if
   the curve had its least height, so that neither waits for the other. */

const onPhone = () => window.matchMedia("(max-width: 599px)").matches;
const leastCurve = () => (onPhone() ? 172 : 220);
const mostCurve = () => (onPhone() ? 172 : 340);
const phoneFoot = () => (onPhone() ? 49 : 0);
const belowLine = 8;
/** @type {number|null} */
let givenCurve = null;

/** Height of the curve now [px]. */
const curveHeight = () => Math.min(Math.max(givenCurve ?? 0, leastCurve()), mostCurve());

/**
 * From the top of the line to the end of the first screen, with the curve at its least height.
 * @param {Element} line
 * @returns {number} [px]
 */
export const roomForLine = (line) => {
  const top = line.getBoundingClientRect().top + window.scrollY;
  return window.innerHeight - phoneFoot() - belowLine - (top - (curveHeight() - leastCurve()));
};

/**
 * Give the curve what the line leaves: at load and at a new size of the window; later it only makes
 * room, for a curve that grows and shrinks with every switch would be another curve, and takes back
 * what scenes gave free.
 * @param {HTMLElement} top what stays when the page scrolls
 * @param {HTMLElement} line
 * @param {() => boolean} resting whether nothing is dragged
 */
export const fitCurve = (top, line, resting) => {
  let settled = false;
  let above = 0;
  const root = document.documentElement;
  const fit = () => {
    if (resting()) {
      const bottom = line.getBoundingClientRect().bottom + window.scrollY;
      const left = window.innerHeight - phoneFoot() - belowLine - (bottom - curveHeight());
      const others = top.offsetHeight - curveHeight();
      const height = Math.floor(Math.min(Math.max(left, leastCurve()), mostCurve()));
      if (!settled || others < above || height < curveHeight()) {
        givenCurve = height;
        root.style.setProperty("--curve", `${height}px`);
      }
      above = others;
    }
    root.style.setProperty("--top", `${top.offsetHeight}px`);
  };
  const watch = new ResizeObserver(fit);
  watch.observe(top);
  watch.observe(line);
  ["pointerdown", "keydown"].forEach((kind) => window.addEventListener(kind, () => { settled = true; }, true));
  window.addEventListener("resize", () => {
    settled = false;
    fit();
  });
  fit();
};

/**
 * What comes late above the line (worth trying, scenes that are tucked away) takes of its room: until
 * a hand comes in, and anew at each size of the window, the line is told.
 * @param {Element[]} above
 * @param {() => void} again
 */
export const whileSettling = (above, again) => {
  let settled = false;
  const watch = new ResizeObserver(() => { if (!settled) again(); });
  above.forEach((element) => watch.observe(element, { box: "border-box" }));
  ["pointerdown", "keydown"].forEach((kind) => window.addEventListener(kind, () => { settled = true; }, true));
  window.addEventListener("resize", () => { settled = false; });
};
