/* What the page has to ask or to say: the file was changed outside, unsaved work was found, the
   program is gone, the work is not saved yet. */

import { make, write } from "./dom.js";
import { copyAll } from "./panel_file.js";
import { errorWords } from "./sending.js";

/** @import { Beside, Server } from "./asked.js" */
/** @import { Store } from "./store.js" */
/** @import { Answer } from "./types.js" */

/** @typedef {{words: string, act: () => Promise<unknown>|void, stays?: boolean}} Choosing */

/**
 * @param {string} title
 * @param {string} words
 * @param {Choosing[]} choices the first has the focus; Escape closes without any of them
 * @param {HTMLElement} [more]
 */
const questionOf = (title, words, choices, more) => {
  const fault = make("p", { class: "fault", role: "alert" });
  const buttons = choices.map((choice) => {
    const button = make("button", { type: "button" }, choice.words);
    button.addEventListener("click", async () => {
      try {
        await choice.act();
        if (!choice.stays) element.close();
      } catch (error) {
        write(fault, errorWords(error));
      }
    });
    return button;
  });
  const element = make("dialog", { class: "dialog", "aria-labelledby": "dialog-title" },
    make("h2", { id: "dialog-title" }, title), make("p", {}, words), more, fault, make("div", { class: "buttons" }, buttons));
  return element;
};

/** @param {{sign: string, text: string}[]} lines
 * @returns {HTMLElement[]} only what differs, with a line of its surroundings */
const differenceRows = (lines) => {
  const near = lines.map((_, i) => lines.slice(Math.max(0, i - 1), i + 2).some(({ sign }) => sign !== " "));
  const words = { "+": "here: ", "-": "in the file: " };
  return lines.flatMap((line, i) => (near[i]
    ? [make("li", { class: { "+": "ours", "-": "theirs" }[line.sign] }, make("b", {}, words[/** @type {"+"|"-"} */ (line.sign)] ?? ""), line.text || " ")] : []));
};

/** @param {string} text
 * @param {string} name */
const download = (text, name) => {
  const address = URL.createObjectURL(new Blob([text], { type: "text/plain" }));
  const link = make("a", { download: name });
  link.href = address;
  link.click();
  window.setTimeout(() => URL.revokeObjectURL(address), 10_000);
};

/**
 * @param {Store} store
 * @param {HTMLElement} holder of dialogs and of what stays to be read
 * @param {Server} server
 * @param {(text: string) => void} tell what was done without asking
 */
export const dialogsView = (store, holder, server, tell) => {
  const lasting = make("div", { class: "lasting", role: "alert" });
  holder.append(lasting);
  /** @type {HTMLDialogElement|null} */
  let open = null;
  /** @param {HTMLDialogElement} dialog */
  const ask = (dialog) => {
    open?.remove();
    open = dialog;
    const before = /** @type {HTMLElement|null} */ (document.activeElement);
    dialog.addEventListener("close", () => {
      dialog.remove();
      if (open === dialog) open = null;
      if (before?.isConnected) before.focus();
    });
    holder.append(dialog);
    dialog.showModal();
  };
  /** @param {Answer|null|unknown} answer */
  const taken = (answer) => {
    if (answer && typeof answer === "object" && "board" in answer) store.take(/** @type {Answer} */ (answer));
  };
  /** @type {HTMLDialogElement|null} */
  let aboutDisk = null;
  const changedOutside = () => {
    const list = make("ul", { class: "difference plain", tabindex: "0", "aria-label": "The difference", hidden: true });
    const difference = async () => {
      const rows = differenceRows(await server.difference());
      list.replaceChildren(...(rows.length ? rows : [make("li", {}, "There is none.")]));
      list.hidden = false;
      list.focus();
    };
    ask(aboutDisk = questionOf("The file was changed by something else",
      "Another program has written it since it was opened here. Which of the two shall it be? Taking theirs can be undone.",
      [
        { words: "keep mine", act: async () => taken(await server.conflict("keep")) },
        { words: "take theirs", act: async () => taken(await server.conflict("take")) },
        { words: "see the difference", stays: true, act: difference },
      ], list));
  };
  /* Where nothing here would be lost there is nothing to ask. */
  const takenOver = async () => {
    try {
      taken(await server.conflict("take"));
      tell("The file was changed by something else. What you see is as it is now.");
    } catch {
      changedOutside();
    }
  };
  const fileGone = () => ask(aboutDisk = questionOf("The file is not there any more",
    "Something else has taken it away or renamed it. What you see here is still whole.",
    [{ words: "write it again", act: async () => taken(await server.conflict("keep")) }, { words: "not now", act: () => undefined }]));
  /** @param {string} when */
  const draftFound = (when) => ask(questionOf("There is unsaved work",
    `It is from ${when} and was never saved. Leaving it throws it away.`,
    [
      { words: "take it up", act: async () => taken(await server.draft("take")) },
      { words: "leave it", act: async () => taken(await server.draft("drop")) },
    ]));

  const gone = () => {
    const text = server.kept();
    const area = make("textarea", { class: "away", readonly: true, "aria-label": "The text of your board" });
    area.value = text;
    const said = make("span", { role: "status" });
    const copy = make("button", { type: "button" }, "copy the text");
    const save = make("button", { type: "button" }, "download it");
    copy.addEventListener("click", async () => {
      area.hidden = false;
      write(said, await copyAll(area));
    });
    save.addEventListener("click", () => download(text, "board.toml"));
    lasting.replaceChildren(make("div", { class: "dialog gone" },
      make("p", {}, "The program behind this page has ended or does not answer. Start it again (sigsim edit) and open the address it says: unsaved work is offered there. Your board is also here:"),
      make("div", { class: "buttons" }, copy, save, said), area));
    area.hidden = true;
  };
  /** @type {string|undefined} */
  let disk = "same";
  let waits = false;
  const decide = () => {
    const { answer, dragging, busy } = store.view();
    waits = disk === "changed" && (dragging || busy);
    if (waits) return;
    if (disk === "gone") fileGone();
    else if (disk === "same") aboutDisk?.close();
    else if (answer?.unsaved) changedOutside();
    else takenOver();
  };
  let unkept = "";
  /** @type {unknown} */
  let offered = null;
  /** @param {Partial<Beside>} now */
  const beside = (now) => {
    if (now.disk !== undefined && now.disk !== disk) {
      disk = now.disk;
      decide();
    }
    if (now.offer && JSON.stringify(now.offer) !== offered) {
      offered = JSON.stringify(now.offer);
      draftFound(now.offer.when);
    }
    if (now.draft !== undefined && now.draft !== unkept) {
      unkept = now.draft;
      lasting.replaceChildren(...(unkept ? [make("p", { class: "dialog" }, `Unsaved work cannot be kept beside the file: ${unkept}`)] : []));
    }
  };
  store.subscribe((view, before) => {
    if (waits) decide();
    if (view.offline && !before.offline) gone();
    else if (!view.offline && before.offline) lasting.replaceChildren();
    if (view.answer && view.answer !== before.answer) beside(/** @type {Beside} */ (/** @type {unknown} */ (view.answer)));
  });
  const first = store.view().answer;
  if (first) beside(/** @type {Beside} */ (/** @type {unknown} */ (first)));
  window.addEventListener("beforeunload", (event) => {
    if (store.view().answer?.unsaved) event.preventDefault();
  });
  return { news: beside };
};
