/* What the commands say of this board, as documents: made by the program, shown as they are. */

import { disclosure } from "./disclosure.js";
import { make, set } from "./dom.js";
import { errorWords } from "./sending.js";
import { documentOf } from "./tables.js";

/** @import { Server } from "./asked.js" */
/** @import { Store } from "./store.js" */

export const DOCUMENTS = [
  { name: "loss", title: "Treble loss of every scene" },
  { name: "buffer", title: "Where a buffer helps" },
  { name: "cables", title: "Which cable costs what" },
  { name: "blame", title: "What takes the treble" },
  { name: "layout", title: "Where things stand, and the lengths" },
  { name: "power", title: "Power" },
  { name: "cautions", title: "Cautions" },
  { name: "figures", title: "Where the figures come from" },
];

const PANEL_REST = 300;

/**
 * @param {Store} store
 * @param {Server} server
 * @param {{name: string, title: string}} which
 */
export const tablesPanel = (store, server, which) => disclosure(which.title, (body) => {
  const status = make("p", { class: "hint", role: "status" }, "Computing …");
  const holder = make("div");
  body.append(status, holder);
  /** @type {string|null} */
  let shown = null;
  let timer = 0;
  let round = 0;
  const ask = async () => {
    round += 1;
    const mine = round;
    try {
      const section = await server.panel(which.name);
      if (mine !== round) return;
      holder.replaceChildren(...documentOf(section));
      status.textContent = "";
    } catch (error) {
      if (mine !== round) return;
      holder.replaceChildren();
      status.textContent = errorWords(error);
    }
    set(holder, { "aria-busy": null });
  };
  return () => {
    const { answer } = store.view();
    const wanted = `${answer?.revision} ${answer?.variant} ${answer?.board.at}`;
    if (wanted === shown) return;
    const first = shown === null;
    shown = wanted;
    /* The old tables stay, marked, until the new ones are here. */
    set(holder, { "aria-busy": "true" });
    window.clearTimeout(timer);
    timer = window.setTimeout(ask, first ? 0 : PANEL_REST);
  };
});
