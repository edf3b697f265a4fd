/* Scenes: what is on together, under a name. */

import { disclosure, keptRows } from "./disclosure.js";
import { buttonRow, textRow } from "./field.js";
import { make, write } from "./dom.js";
import { sendEdit } from "./sending.js";

/** @import { Store } from "./store.js" */
/** @import { Named } from "./types.js" */

/** @param {string[]} names */
const listed = (names) => (names.length ? names.join(", ") : "nothing");

/**
 * @param {Store} store
 * @param {Named} scene
 */
const sceneRow = (store, scene) => {
  const { name } = scene;
  /* Under its new name it is another row, which takes the focus over. */
  const rename = async (/** @type {string} */ text) => {
    if (!text) return "A scene wants a name.";
    const focused = input.control === document.activeElement, list = element.parentElement;
    const words = await sendEdit(store, () => ({ do: "scene-name", name, to: text }));
    const fields = [...list?.querySelectorAll("input") ?? []];
    if (!words && focused) fields.find((field) => field.value === text)?.focus();
    return words;
  };
  const input = textRow("name", name, rename, { name: `name of the scene ${name}` });
  const actions = buttonRow([{ words: "remove", name: `remove the scene ${name}`, act: () => sendEdit(store, () => ({ do: "scene-out", name })) }]);
  const on = make("p", { class: "hint" });
  const element = make("li", { class: "kept line" }, input.element, on, actions.element);
  return {
    element,
    /** @param {Named} now */
    update: (now) => {
      input.update(now.name);
      write(on, `on: ${listed(now.on.map((i) => store.view().steady.data.switches[i]))}`);
    },
  };
};

/** @param {Store} store */
export const scenesPanel = (store) => disclosure("Scenes", (body) => {
  const list = make("ul", { class: "plain" });
  const rows = keptRows(list, (/** @type {Named} */ scene) => scene.name, (scene) => sceneRow(store, scene));
  const none = make("p", { class: "hint" }, "No scene yet: switch on what you play together, then keep it under a name.");
  const on = make("p", { class: "hint" });
  /** @param {string} text */
  const keep = async (text) => {
    if (!text) return "A scene wants a name.";
    return sendEdit(store, () => ({ do: "scene", name: text, on: store.names() }));
  };
  const input = make("input", { type: "text", id: "scene-new", autocomplete: "off", enterkeyhint: "done" });
  const add = buttonRow([{
    words: "keep as a scene",
    act: async () => {
      const words = await keep(input.value.trim());
      if (!words) input.value = "";
      return words;
    },
  }]);
  input.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || event.isComposing) return;
    event.preventDefault();
    add.buttons[0].click();
  });
  body.append(none, list, make("h3", {}, "What is on now"), on,
    make("div", { class: "row" }, make("label", { for: "scene-new" }, "name"), input), add.element);
  return () => {
    const { data } = store.view().steady;
    const scenes = data.states.filter((state) => state.kind === "scene");
    rows(scenes);
    none.hidden = scenes.length > 0;
    write(on, `on: ${listed(store.names())}`);
  };
});
