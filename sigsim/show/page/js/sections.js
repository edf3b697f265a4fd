/* What stands below the line on a report: the answers of the commands, each in a part that opens.
   Where there is room all are open but where every figure came from; on a phone the first is. */

/** @import { Section } from "./asked.js" */
import { make } from "./dom.js";
import { documentOf } from "./tables.js";

const roomy = window.matchMedia("(min-width: 700px)");

/**
 * @param {Section} section
 * @param {number} number
 * @returns {HTMLDetailsElement}
 */
const sectionOf = (section, number) => {
  const open = number === 0 || (roomy.matches && section.id !== "figures");
  return make("details", { id: section.id, class: "section", open },
    make("summary", {}, make("h2", {}, section.title)), ...documentOf(section));
};

/**
 * Open what an address or a link leads to.
 * @param {HTMLElement} holder
 */
const openNamed = (holder) => {
  const named = document.getElementById(decodeURIComponent(location.hash.slice(1)));
  if (named instanceof HTMLDetailsElement && holder.contains(named)) named.open = true;
};

/**
 * Open all parts, or shut again those that were shut.
 * @param {HTMLElement} holder
 * @returns {() => void} shuts them again
 */
export const allOpen = (holder) => {
  const shut = [...holder.querySelectorAll("details.section")].filter((part) => !part.hasAttribute("open"));
  shut.forEach((part) => part.setAttribute("open", ""));
  return () => shut.forEach((part) => part.removeAttribute("open"));
};

/**
 * @param {HTMLElement} holder
 * @returns {(sections: Section[]) => void} shows others: what was open stays open
 */
export const sectionsView = (holder) => {
  window.addEventListener("hashchange", () => openNamed(holder));
  return (sections) => {
    const before = new Map([...holder.querySelectorAll("details.section")].map(
      (part) => [part.id, /** @type {HTMLDetailsElement} */ (part).open]));
    holder.replaceChildren(...sections.map(sectionOf));
    holder.querySelectorAll("details.section").forEach((part) => {
      /** @type {HTMLDetailsElement} */ (part).open = before.get(part.id) ?? /** @type {HTMLDetailsElement} */ (part).open;
    });
    openNamed(holder);
  };
};
