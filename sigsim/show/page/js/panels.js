/* What stands below the line, each closed at first. */

import { make } from "./dom.js";
import { filePanel } from "./panel_file.js";
import { listenPanel } from "./panel_listen.js";
import { pinsPanel } from "./panel_pins.js";
import { scenesPanel } from "./panel_scenes.js";
import { DOCUMENTS, tablesPanel } from "./panel_tables.js";
import { variantsPanel } from "./panel_variants.js";

/** @import { Server } from "./asked.js" */
/** @import { Store } from "./store.js" */

/**
 * @param {Store} store
 * @param {HTMLElement} holder
 * @param {Server} server
 */
export const panels = (store, holder, server) => {
  const all = [
    scenesPanel(store), variantsPanel(store), pinsPanel(store), listenPanel(store, server), filePanel(store, server),
    ...DOCUMENTS.map((which) => tablesPanel(store, server, which)),
  ];
  /* An address of the program's own, not of the board. */
  const sheet = make("a", { href: server.sheetURL(), target: "_blank", rel: "noopener", class: "sheet" }, "Print the sheet (opens a new window)");
  holder.append(...all.map(({ element }) => element), sheet);
  store.subscribe((view, before) => {
    if (view.dragging || view.held) return;
    if (view.steady === before.steady && view.answer === before.answer && view.pins === before.pins && !before.dragging && !before.held) return;
    all.forEach(({ update }) => update());
  });
};
