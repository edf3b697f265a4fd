/* "From its papers": the electrical figures of a thing with their sources, one level deeper. */

import { make } from "./dom.js";

/** @import { Details, Figure } from "./asked.js" */

/** @param {Figure} figure */
const figureRow = (figure) => make("div", { class: "figure" },
  make("dt", {}, figure.words),
  make("dd", {}, make("b", {}, figure.value), figure.tolerance && ` (${figure.tolerance})`,
    figure.source && make("small", {}, figure.source)));

/**
 * @returns {{element: HTMLElement, update: (details: Details|null) => void}}
 */
export const papers = () => {
  const list = make("dl", { class: "figures" });
  const element = make("details", { class: "papers", hidden: true }, make("summary", {}, "from its papers"), list);
  let shown = "";
  return {
    element,
    update: (details) => {
      const figures = details?.figures ?? [];
      element.hidden = figures.length === 0;
      const wanted = JSON.stringify(figures);
      if (wanted === shown) return;
      shown = wanted;
      list.replaceChildren(...figures.map(figureRow));
    },
  };
};
