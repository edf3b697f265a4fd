/* How wide words are, measured beside the page: asking the page itself lays it out. */

/** @type {Map<string, number>} */
const widthsKnown = new Map();
const mostWidths = 4000;
/** @type {CanvasRenderingContext2D|null} */
let lettersOn = null;

/**
 * The width of words; each is measured once.
 * @param {string} font as in CSS
 * @param {string} text
 * @returns {number} [px]
 */
export const wordWidth = (font, text) => {
  const key = `${font}|${text}`;
  let found = widthsKnown.get(key);
  if (found === undefined) {
    lettersOn ??= document.createElement("canvas").getContext("2d");
    if (lettersOn) lettersOn.font = font;
    found = lettersOn ? lettersOn.measureText(text).width : 8 * text.length;
    if (widthsKnown.size >= mostWidths) widthsKnown.clear();
    widthsKnown.set(key, found);
  }
  return found;
};

/**
 * Words that are longer than their room end in an ellipsis.
 * @param {string} font
 * @param {string} text
 * @param {number} room [px]
 */
export const fittedWords = (font, text, room) => {
  let letters = [...text];
  if (wordWidth(font, text) <= room) return text;
  while (letters.length > 1 && wordWidth(font, `${letters.join("").trimEnd()}…`) > room) letters = letters.slice(0, -1);
  return `${letters.join("").trimEnd()}…`;
};
