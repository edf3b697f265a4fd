/* Elements. What comes from a board goes in as text, never as markup. */

/** @typedef {Node|string|undefined|null|false} Child */
/** @typedef {Record<string, string|number|boolean|undefined|null>} Attributes */

/**
 * Only what differs is written: also what is the same would be laid out anew.
 * @param {Element} element
 * @param {Attributes} attributes undefined, null and false leave one out, true makes it empty
 */
export const set = (element, attributes) => {
  for (const name in attributes) {
    const value = attributes[name];
    if (value === undefined || value === null || value === false) element.removeAttribute(name);
    else {
      const text = value === true ? "" : String(value);
      if (element.getAttribute(name) !== text) element.setAttribute(name, text);
    }
  }
};

/**
 * @param {Child[]} children
 * @returns {(Node|string)[]}
 */
const kept = (children) => /** @type {(Node|string)[]} */ (
  children.filter((child) => child !== undefined && child !== null && child !== false && child !== ""));

/**
 * @template {keyof HTMLElementTagNameMap} T
 * @param {T} tag
 * @param {Attributes} attributes
 * @param {...(Child|Child[])} children
 * @returns {HTMLElementTagNameMap[T]}
 */
export const make = (tag, attributes = {}, ...children) => {
  const element = document.createElement(tag);
  set(element, attributes);
  element.append(...kept(children.flat()));
  return element;
};

/**
 * @template {keyof SVGElementTagNameMap} T
 * @param {T} tag
 * @param {Attributes} attributes
 * @param {...(Child|Child[])} children
 * @returns {SVGElementTagNameMap[T]}
 */
export const draw = (tag, attributes = {}, ...children) => {
  const element = document.createElementNS("http://www.w3.org/2000/svg", tag);
  set(element, attributes);
  element.append(...kept(children.flat()));
  return element;
};

/**
 * @param {string} id
 * @returns {HTMLElement}
 */
export const find = (id) => {
  const element = document.getElementById(id);
  if (!element) throw new Error(`no element ${id}`);
  return element;
};

/**
 * Write text only where it differs: what is read out loud is not read twice.
 * @param {Element} element
 * @param {string} text
 */
export const write = (element, text) => {
  if (element.textContent !== text) element.textContent = text;
};
