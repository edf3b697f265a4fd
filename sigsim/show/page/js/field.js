/* Rows of a form: a label, what is typed or chosen, and beside it what is wrong with it. What a
   person types is never overwritten and never lost. */

import { make, set, write } from "./dom.js";

/** @import { Choice } from "./asked.js" */

/** @typedef {(value: string) => Promise<string>} Send what is wrong comes back; "" when it was done */

/**
 * @typedef {object} FieldRow
 * @property {HTMLElement} element
 * @property {HTMLElement} control what takes the focus
 * @property {(value: string, choices?: Choice[]) => void} update what the document says now
 * @property {(words: string) => void} say what is wrong
 */

let made = 0;

/** @param {string} stem
 * @returns {string} an id that no other element has */
export const freshId = (stem) => {
  made += 1;
  return `${stem}-${made}`;
};

/**
 * A line for what is wrong, read out when it comes, and described at its control.
 * @param {HTMLElement} control
 */
export const faultLine = (control) => {
  const element = make("p", { class: "fault", id: freshId("fault"), role: "alert" });
  const usual = control.getAttribute("aria-describedby");
  return {
    element,
    /** @param {string} words */
    say: (words) => {
      write(element, words);
      set(control, {
        "aria-invalid": words ? "true" : null,
        "aria-describedby": [words ? element.id : "", usual ?? ""].filter(Boolean).join(" ") || null,
      });
    },
  };
};

/**
 * Text that is sent with Enter or on leaving the field; Escape puts back what was there.
 * @param {HTMLInputElement} input
 * @param {Send} send
 * @param {(words: string) => void} say
 */
const typing = (input, send, say) => {
  let known = input.value;
  let tried = "";
  const keep = async () => {
    const text = input.value.trim();
    if (text === known || text === tried) {
      if (text === known) say("");
      return;
    }
    tried = text;
    const words = await send(text);
    const untouched = input.value.trim() === text;
    if (!words && untouched) input.value = known;
    if (words || untouched) say(words);
    if (!words) tried = "";
  };
  input.addEventListener("blur", keep);
  input.addEventListener("keydown", (event) => {
    if (event.key === "Enter" && !event.isComposing) {
      event.preventDefault();
      tried = "";
      keep();
    } else if (event.key === "Escape" && input.value !== known) {
      event.preventDefault();
      event.stopPropagation();
      input.value = known;
      tried = "";
      say("");
    }
  });
  return {
    keep,
    /** @param {string} value */
    update: (value) => {
      const clean = input.value === known;
      known = value;
      if (clean) input.value = value;
    },
  };
};

/**
 * @param {string} label
 * @param {string} value
 * @param {Send} send
 * @param {{hint?: string, name?: string}} [options] name: where the label alone would not say it
 * @returns {FieldRow & {control: HTMLInputElement}}
 */
export const textRow = (label, value, send, options = {}) => {
  const id = freshId("field");
  const hint = options.hint ? make("p", { class: "hint", id: `${id}-hint` }, options.hint) : undefined;
  const control = make("input", {
    id, type: "text", autocomplete: "off", spellcheck: "false", enterkeyhint: "done",
    "aria-describedby": hint?.id, "aria-label": options.name,
  });
  control.value = value;
  const fault = faultLine(control);
  const { update } = typing(control, send, fault.say);
  const element = make("div", { class: "row" }, make("label", { for: id }, label), control, hint, fault.element);
  return { element, control, update, say: fault.say };
};

const STEP_REST = 300;

/**
 * A knob: its number from 0 to 10, typed, or by ↑ and ↓, or by its two buttons.
 * @param {string} label
 * @param {string} value
 * @param {Send} send
 * @returns {FieldRow}
 */
export const knobRow = (label, value, send) => {
  const id = freshId("knob");
  const control = make("input", {
    id, type: "text", inputmode: "decimal", autocomplete: "off", role: "spinbutton", class: "number",
    "aria-valuemin": 0, "aria-valuemax": 10,
  });
  control.value = value;
  const fault = faultLine(control);
  const { keep, update } = typing(control, send, fault.say);
  const spoken = () => set(control, { "aria-valuenow": Number.parseFloat(control.value) || 0, "aria-valuetext": control.value || "not written" });
  let timer = 0;
  /** @param {number} by */
  const step = (by) => {
    const from = Number.parseFloat(control.value.replace(",", "."));
    control.value = String(Math.min(10, Math.max(0, Math.round(((Number.isFinite(from) ? from : 10) + by) * 10) / 10)));
    spoken();
    window.clearTimeout(timer);
    timer = window.setTimeout(keep, STEP_REST);
  };
  control.addEventListener("keydown", (event) => {
    const by = { ArrowUp: 1, ArrowDown: -1 }[event.key];
    if (!by) return;
    event.preventDefault();
    step(by);
  });
  control.addEventListener("input", spoken);
  spoken();
  /** @param {string} sign
   * @param {number} by */
  const button = (sign, by) => {
    const made = make("button", { type: "button", class: "step", tabindex: "-1", "aria-label": `${label} ${by < 0 ? "down" : "up"}` }, sign);
    made.addEventListener("click", () => step(by));
    return made;
  };
  const element = make("div", { class: "row" }, make("label", { for: id }, label),
    make("span", { class: "stepper" }, button("−", -1), control, button("+", 1)), fault.element);
  return { element, control, say: fault.say, update: (text) => { update(text); spoken(); } };
};

/**
 * One of several; a refused choice goes back to what is, and the words say why.
 * @param {string} label
 * @param {string} value
 * @param {Choice[]} choices
 * @param {Send} send
 * @returns {FieldRow}
 */
export const choiceRow = (label, value, choices, send) => {
  const id = freshId("choice");
  const control = make("select", { id });
  const fault = faultLine(control);
  let known = value;
  let listed = "";
  /** @param {string} text
   * @param {Choice[]} [now] */
  const update = (text, now = choices) => {
    const wanted = JSON.stringify(now);
    if (wanted !== listed) {
      control.replaceChildren(...now.map((choice) => make("option", { value: choice.value }, choice.words)));
      listed = wanted;
    }
    known = text;
    control.value = text;
  };
  control.addEventListener("change", async () => {
    const words = await send(control.value);
    if (words) control.value = known;
    fault.say(words);
  });
  update(value);
  const element = make("div", { class: "row" }, make("label", { for: id }, label), control, fault.element);
  return { element, control, update, say: fault.say };
};

/**
 * Buttons beside each other with one line for what is wrong.
 * @param {{words: string, name?: string, act: () => Promise<string>|void}[]} buttons
 * @returns {{element: HTMLElement, buttons: HTMLButtonElement[], say: (words: string) => void}}
 */
export const buttonRow = (buttons) => {
  const made = buttons.map(({ words, name }) => make("button", { type: "button", "aria-label": name }, words));
  const element = make("div", { class: "buttons" }, made);
  const fault = make("p", { class: "fault", role: "alert" });
  element.append(fault);
  /** @param {string} words */
  const say = (words) => write(fault, words);
  made.forEach((button, i) => button.addEventListener("click", async () => say((await buttons[i].act()) ?? "")));
  return { element, buttons: made, say };
};
