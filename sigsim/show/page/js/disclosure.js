/* One panel below the line: closed at first, made when it is opened for the first time. */

import { make } from "./dom.js";

/**
 * @typedef {object} Panel
 * @property {HTMLDetailsElement} element
 * @property {HTMLElement} body
 */

/**
 * @param {string} title
 * @param {(body: HTMLElement) => () => void} build makes what is inside and returns what writes it anew
 * @returns {Panel & {update: () => void}}
 */
export const disclosure = (title, build) => {
  const body = make("div", { class: "panel-body" });
  const element = make("details", { class: "panel" }, make("summary", {}, make("h2", {}, title)), body);
  /** @type {(() => void)|null} */
  let refresh = null;
  const update = () => {
    if (!element.open) return;
    refresh ??= build(body);
    refresh();
  };
  element.addEventListener("toggle", update);
  return { element, body, update };
};

/**
 * Rows that are kept by name: what stays is not made anew, so that it keeps the focus.
 * @template T
 * @param {HTMLElement} holder
 * @param {(value: T) => string} nameOf
 * @param {(value: T) => {element: HTMLElement, update: (value: T) => void}} create
 * @returns {(values: T[]) => void}
 */
export const keptRows = (holder, nameOf, create) => {
  /** @type {Map<string, {element: HTMLElement, update: (value: T) => void}>} */
  let rows = new Map();
  return (values) => {
    /** @type {typeof rows} */
    const next = new Map();
    values.forEach((value, i) => {
      const row = rows.get(nameOf(value)) ?? create(value);
      row.update(value);
      next.set(nameOf(value), row);
      if (holder.children[i] !== row.element) holder.insertBefore(row.element, holder.children[i] ?? null);
    });
    rows.forEach((row, name) => {
      if (next.has(name)) return;
      const focused = row.element.contains(document.activeElement);
      const beside = row.element.nextElementSibling ?? row.element.previousElementSibling ?? holder.parentElement;
      row.element.remove();
      if (focused) /** @type {HTMLElement|null} */ (beside?.querySelector("button, input"))?.focus();
    });
    rows = next;
  };
};
