/* Documents made by the program: headings, text, lists and tables. A table is stacked where it is
   too narrow, so that nothing scrolls sideways. */

import { make } from "./dom.js";

/** @import { Block, Section } from "./asked.js" */

/** @param {number} share of 1 */
const shareBar = (share) => {
  const inner = make("i");
  inner.style.width = `${Math.max(0, Math.min(1, share)) * 100}%`;
  return make("span", { class: "share", "aria-hidden": "true" }, inner);
};

/**
 * Every cell carries the heading of its column, which stands beside it where the table is stacked.
 * @param {Block} block
 * @param {string[]} row
 * @param {number} index
 */
const tableRow = (block, row, index) => {
  const { columns = [], numbers = [], groups = [], bars = [] } = block;
  const share = bars.length ? make("td", { class: "shares", role: "cell" }, shareBar(bars[index])) : undefined;
  if (groups.includes(index)) {
    const across = columns.length + (bars.length ? 1 : 0);
    return make("tr", { class: "group", role: "row" }, make("th", { scope: "rowgroup", role: "rowheader", colspan: across }, row[0]));
  }
  /* A row that goes on with the one above has no heading of its own. */
  const heads = (/** @type {string} */ text, /** @type {number} */ i) => i === 0 && text !== "";
  const cells = row.map((text, i) => make(heads(text, i) ? "th" : "td", {
    scope: heads(text, i) ? "row" : undefined, role: heads(text, i) ? "rowheader" : "cell", class: numbers.includes(i) ? "n" : undefined,
    "data-column": i === 0 ? undefined : columns[i],
  }, text));
  return make("tr", { role: "row" }, cells, share);
};

/**
 * @param {Block} block of kind "table"
 * @returns {HTMLTableElement}
 */
export const tableOf = (block) => {
  const { columns = [], numbers = [], rows = [], bars = [] } = block;
  /* The roles are said although they are the usual ones: a table that is stacked by its style would lose them. */
  const head = make("tr", { role: "row" }, columns.map((text, i) => make(text ? "th" : "td", {
    scope: text ? "col" : undefined, role: text ? "columnheader" : "cell", class: numbers.includes(i) ? "n" : undefined,
  }, text)), bars.length ? make("td", { class: "shares", role: "cell" }) : undefined);
  const size = columns.length > 6 ? "long" : columns.length > 3 ? "middle" : "short";
  return make("table", { class: `stacked ${size}`, role: "table", "data-columns": columns.length },
    block.caption ? make("caption", {}, block.caption) : undefined,
    make("thead", { role: "rowgroup" }, head), make("tbody", { role: "rowgroup" }, rows.map((row, i) => tableRow(block, row, i))));
};

/**
 * @param {Block} block
 * @returns {HTMLElement[]}
 */
const blockOf = (block) => {
  if (block.kind === "heading") return [make("h3", {}, block.text)];
  if (block.kind === "table") return [tableOf(block)];
  const list = () => make("ul", {}, (block.lines ?? []).map((line) => make("li", {}, line)));
  if (block.kind === "list") return [list()];
  if (block.kind === "folded") {
    return [make("details", { class: "tucked" }, make("summary", {}, block.title), list())];
  }
  return (block.lines ?? []).map((line) => make("p", { class: block.quiet ? "quiet" : undefined }, line));
};

/**
 * @param {Section} section
 * @returns {HTMLElement[]} without its title
 */
export const documentOf = (section) => section.blocks.flatMap(blockOf);
