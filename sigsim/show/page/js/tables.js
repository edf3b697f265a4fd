/* What a document says, as elements: headings, sentences, lists, tables, and what is folded away.
   Where a table has no room its rows become blocks of name and value (css/tables.css), so that
   nothing needs a sideways scroll; roles say that it still is a table. */

import { make } from "./dom.js";

/**
 * @typedef {object} TableBlock
 * @property {"table"} kind
 * @property {string} caption
 * @property {string[]} columns
 * @property {number[]} numbers columns that stand to the right
 * @property {string[][]} rows
 * @property {number[]} groups rows that name those below
 * @property {number[]} bars lengths from 0 to 1, one a row, or none
 */
/** @typedef {{kind: "heading", text: string}} HeadingBlock */
/** @typedef {{kind: "text", lines: string[], quiet: boolean}} TextBlock */
/** @typedef {{kind: "list", lines: string[]}} ListBlock */
/** @typedef {{kind: "folded", title: string, lines: string[]}} FoldedBlock */
/** @typedef {HeadingBlock|TextBlock|ListBlock|FoldedBlock|TableBlock} Block */
/** @typedef {{id: string, title: string, blocks: Block[]}} Section */

/**
 * @param {number} share from 0 to 1
 * @returns {HTMLElement}
 */
const barOf = (share) => {
  const inner = make("i");
  inner.style.width = `${Math.max(0, Math.min(1, share)) * 100}%`;
  return make("td", { class: "bars", role: "cell", "aria-hidden": "true" }, make("span", { class: "share" }, inner));
};

/**
 * @param {TableBlock} table
 * @param {string[]} cells
 * @param {number} number of the row
 * @returns {HTMLTableRowElement}
 */
const rowOf = (table, cells, number) => {
  if (table.groups.includes(number)) {
    return make("tr", { role: "row", class: "group" },
      make("th", { scope: "rowgroup", role: "rowheader", colspan: table.columns.length }, cells[0]));
  }
  const made = cells.map((text, i) => {
    const kind = table.numbers.includes(i) ? "number" : undefined;
    if (i === 0) return make("th", { scope: "row", role: "rowheader", class: kind }, text);
    return make("td", { role: "cell", class: text ? kind : "empty", "data-column": table.columns[i] }, text);
  });
  return make("tr", { role: "row" }, made, table.bars.length > 0 && barOf(table.bars[number]));
};

/**
 * @param {TableBlock} table
 * @returns {HTMLElement}
 */
const tableOf = (table) => {
  const head = make("tr", { role: "row" }, table.columns.map((text, i) => make("th", {
    scope: "col", role: "columnheader", class: table.numbers.includes(i) ? "number" : undefined }, text)),
  table.bars.length > 0 && make("td", { role: "cell", class: "bars" }));
  const size = table.columns.length > 6 ? "long" : table.columns.length > 3 ? "middle" : "short";
  return make("div", { class: `table ${size}` }, make("table", { role: "table" },
    make("caption", {}, table.caption),
    make("thead", { role: "rowgroup" }, head),
    make("tbody", { role: "rowgroup" }, table.rows.map((cells, i) => rowOf(table, cells, i)))));
};

/**
 * The elements of what a document says.
 * @param {Block[]} made
 * @returns {HTMLElement[]}
 */
export const blocksOf = (made) => made.flatMap((block) => {
  if (block.kind === "heading") return [make("h3", {}, block.text)];
  if (block.kind === "text") {
    return block.lines.map((line) => make("p", { class: block.quiet && "quiet" }, line));
  }
  if (block.kind === "table") return [tableOf(block)];
  const list = make("ul", {}, block.lines.map((line) => make("li", {}, line)));
  if (block.kind === "list") return [list];
  return [make("details", { class: "folded" }, make("summary", {}, block.title), list)];
});
