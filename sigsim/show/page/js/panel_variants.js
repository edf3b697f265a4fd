/* Variants: the same board otherwise. It says where an edit goes. */

import { disclosure, keptRows } from "./disclosure.js";
import { buttonRow, freshId } from "./field.js";
import { make, write } from "./dom.js";
import { sendEdit } from "./sending.js";

/** @import { Store } from "./store.js" */

/** @typedef {{name: string, words: string}} Variant */

/**
 * @param {Store} store
 * @param {Variant} variant "" as written
 * @param {(words: string) => void} say
 */
const variantRow = (store, variant, say) => {
  const { name } = variant;
  const id = freshId("variant");
  const input = make("input", { type: "radio", name: "variant", id });
  const words = make("p", { class: "hint" });
  input.addEventListener("change", async () => {
    const wrong = await sendEdit(store, () => ({ do: "variant", name }));
    say(wrong);
    if (wrong) input.checked = store.view().answer?.variant === name;
  });
  const remove = name ? buttonRow([{ words: "remove", name: `remove the variant ${name}`, act: () => sendEdit(store, () => ({ do: "variant-out", name })) }]) : null;
  const element = make("div", { class: "kept line" }, make("label", { class: "radio", for: id }, input, make("span", {}, name || "as written")), words, remove?.element);
  return {
    element,
    /** @param {Variant} now */
    update: (now) => {
      write(words, now.words || (name ? "nothing differs yet" : ""));
      input.checked = (store.view().answer?.variant ?? "") === name;
    },
  };
};

/** @param {Store} store */
export const variantsPanel = (store) => disclosure("Variants", (body) => {
  const where = make("p", { role: "status" });
  const fault = make("p", { class: "fault", role: "alert" });
  const list = make("div", { class: "plain", role: "radiogroup", "aria-label": "Which variant is shown" });
  const rows = keptRows(list, (/** @type {Variant} */ variant) => variant.name, (variant) => variantRow(store, variant, (words) => write(fault, words)));
  const input = make("input", { type: "text", id: "variant-new", autocomplete: "off", enterkeyhint: "done" });
  const add = buttonRow([{
    words: "make a variant",
    act: async () => {
      const name = input.value.trim();
      if (!name) return "A variant wants a name.";
      const words = await sendEdit(store, () => ({ do: "variant-new", name }));
      if (!words) input.value = "";
      return words;
    },
  }]);
  input.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || event.isComposing) return;
    event.preventDefault();
    add.buttons[0].click();
  });
  body.append(make("p", { class: "hint" }, "The same board with something different: another bass, another amp, other pedals in their places, a pedal less."),
    where, list, fault, make("div", { class: "row" }, make("label", { for: "variant-new" }, "name"), input), add.element);
  return () => {
    const { answer } = store.view();
    const shown = answer?.variant ?? "";
    write(where, shown ? `What you change now goes into the variant "${shown}" only.` : "What you change now goes into the board itself, and so into every variant.");
    rows([{ name: "", words: "" }, ...(answer?.variants ?? [])]);
  };
});
