/* The sentence: what is lost in the state that is shown, and how the board compares after a buffer. */

/** @import { Store, View, Shown } from "./store.js" */
import { walk } from "./chain.js";
import { make, write } from "./dom.js";
import { narrow } from "./lay.js";
import { decibel, sentence } from "./words.js";

const spokenAfter = 700; // [ms] after which it is read out

/** @param {Shown} shown */
const isolators = ({ model, on }) => [...model.line(on).values()].filter((thing) => thing.isolates).length;

/** @param {string} name of the instrument */
const played = (name) => {
  const word = ["bass", "guitar"].find((kind) => name.toLowerCase().includes(kind));
  return `the ${word ?? "instrument"}`;
};

/** Whether something is on whose sound is that it loads the pickup, as with a fuzz: no buffer is judged by that.
 * @param {Shown} shown */
const voiced = ({ data, on }) => walk(data.chain).some((item) => item.pickup && item.s !== undefined && on.has(item.s));

/** How many letters the lines hold that are kept free on a phone: more would push the page. */
const roomForLetters = () => (narrow(window.innerWidth) ? window.innerWidth * 0.28 : Infinity);

/**
 * How the board compares with the lead straight into the amp.
 * @param {Shown} shown
 * @param {boolean} brief
 * @returns {string}
 */
const compared = (shown, brief) => {
  const { data, found } = shown;
  if (!Number.isFinite(found.direct) || voiced(shown)) return "";
  const text = decibel(Math.abs(found.direct));
  const straight = brief ? "straight in" : `${played(data.instrument)} straight into the amp`;
  if (text === "0.0") return `As bright as ${straight}.`;
  return `${text} dB ${found.direct < 0 ? "brighter" : "darker"} than ${straight}.`;
};

/**
 * @param {Store} store
 * @param {HTMLElement} holder
 */
export const sentenceView = (store, holder) => {
  const title = make("h1");
  const more = make("p");
  const spoken = make("p", { class: "sr", role: "status" });
  holder.append(title, more, spoken);
  let buffered = false;
  /** @type {ReturnType<typeof setTimeout>|undefined} */
  let timer;

  /** An edit that brought another isolator is a buffer, whatever it was made from; what is said of it stays until one goes.
   * @param {View} view
   * @param {View} before */
  const watch = (view, before) => {
    if (view.answer === before.answer || !view.steady.data.live || !before.steady.data.live) return;
    const more = isolators(view.steady) - isolators(before.steady);
    if (more) buffered = more > 0;
  };

  /** @param {View} view */
  const show = ({ shown, held, dragging }) => {
    const most = roomForLetters(), compares = buffered && !held && !dragging;
    /** @param {number} [named] */
    const said = (named) => {
      const words = sentence(shown, shown.data, named);
      const others = [words.more, words.level, compares ? compared(shown, most < Infinity) : ""];
      return [words.title, others.filter((text) => text).join(" ")];
    };
    const whole = said(), short = whole.join(" ").length > most ? said(0) : whole;
    write(title, short[0]);
    write(more, short[1]);
    clearTimeout(timer);
    timer = setTimeout(() => write(spoken, whole.join(" ")), spokenAfter);
  };

  store.subscribe((view, before) => {
    watch(view, before);
    if (view.shown !== before.shown || view.answer !== before.answer || view.dragging !== before.dragging) show(view);
  });
  show(store.view());
};
