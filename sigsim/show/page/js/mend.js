/* A file that is no board: its text with what is wrong beside the lines, until it reads as one. */

import { make, write } from "./dom.js";
import { errorWords } from "./sending.js";
import { textEdit, wrongWords } from "./textedit.js";

/** @import { Broken, Server } from "./asked.js" */
/** @import { Answer, Fault } from "./types.js" */

/**
 * @param {HTMLElement} holder
 * @param {Server} server
 * @param {Broken} broken
 * @param {(answer: Answer) => void} done when it is a board
 */
export const mendView = (holder, server, broken, done) => {
  const fault = make("p", { class: "fault", role: "alert" });
  const apply = make("button", { type: "button" }, "apply");
  const edit = textEdit(`The text of ${broken.file}`, () => undefined);
  apply.addEventListener("click", async () => {
    apply.disabled = true;
    try {
      done(await server.edit({ do: "text", text: edit.area.value }, broken.revision));
    } catch (error) {
      const { fault: one, faults } = /** @type {{fault?: Fault, faults?: Fault[]}} */ (error);
      const found = faults?.length ? faults : (one ? [one] : []);
      edit.wrong(found);
      write(fault, found.length ? wrongWords(found.length) : errorWords(error));
    }
    apply.disabled = false;
  });
  holder.replaceChildren(make("section", { class: "start panel", "aria-labelledby": "mend-title" },
    make("h1", { id: "mend-title" }, `${broken.file} does not read as a board yet`),
    make("p", {}, "Nothing was changed. Mend what stands beside the lines, then apply."),
    edit.element, fault, make("div", { class: "buttons" }, apply)));
  edit.area.value = broken.text;
  edit.wrong(broken.faults);
};
