/* Before the page goes to paper all is laid out anew for its width, with every part open. */

import { allOpen } from "./sections.js";

const layAnew = () => window.dispatchEvent(new Event("resize"));

/**
 * @param {HTMLElement} sections
 */
export const readyForPaper = (sections) => {
  let restore = () => {};
  window.addEventListener("beforeprint", () => {
    document.documentElement.classList.add("paper");
    restore = allOpen(sections);
    layAnew();
  });
  window.addEventListener("afterprint", () => {
    document.documentElement.classList.remove("paper");
    restore();
    layAnew();
  });
};
