/* A number that gets the focus is marked as a whole: what is typed replaces it. */

const numberFields = "input[type=\"number\"], input[inputmode=\"decimal\"], input[inputmode=\"numeric\"]";

/** For all number fields of the page, also those to come.
 * @param {Document} page */
export const wholeNumbers = (page) => {
  /** @type {HTMLInputElement|null} */
  let young = null;
  page.addEventListener("focusin", ({ target }) => {
    young = target instanceof HTMLInputElement && target.matches(numberFields) ? target : null;
    young?.select();
  });
  /* The press that gave the focus sets the caret afterwards; who marked something has what was meant. */
  page.addEventListener("click", ({ target }) => {
    if (young && target === young && young.selectionStart === young.selectionEnd) young.select();
    young = null;
  });
};
