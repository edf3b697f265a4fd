/* Pins: curves that are kept to look at while the board changes. They are not saved. */

import { disclosure } from "./disclosure.js";
import { buttonRow } from "./field.js";
import { make } from "./dom.js";
import { decibel } from "./words.js";

/** @import { Store } from "./store.js" */

/** @param {Store} store */
export const pinsPanel = (store) => disclosure("Keep this curve", (body) => {
  const list = make("ul", { class: "plain" });
  const input = make("input", { type: "text", id: "pin-name", autocomplete: "off", enterkeyhint: "done" });
  const add = buttonRow([{
    words: "keep",
    act: () => {
      const { pins } = store.view();
      store.pin(input.value.trim() || `kept ${pins.length + 1}`);
      input.value = "";
    },
  }]);
  input.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || event.isComposing) return;
    event.preventDefault();
    add.buttons[0].click();
  });
  body.append(make("p", { class: "hint" }, "It stays beside the new one, until the page is closed."),
    make("div", { class: "row" }, make("label", { for: "pin-name" }, "name"), input), add.element, list);
  /** @type {unknown} */
  let listed = null;
  return () => {
    const { pins } = store.view();
    if (pins === listed) return;
    listed = pins;
    const focused = list.contains(document.activeElement);
    list.replaceChildren(...pins.map((pin, i) => {
      const row = buttonRow([{ words: "remove", name: `remove the curve ${pin.name}`, act: () => store.unpin(i) }]);
      return make("li", { class: "kept line" }, make("span", {}, `${pin.name}: ${decibel(pin.found.treble)} dB`), row.element);
    }));
    if (focused) (list.querySelector("button") ?? input).focus();
  };
});
