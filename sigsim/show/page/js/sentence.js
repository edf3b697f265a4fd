/* The sentence: what is lost in the state that is shown, and how the board compares after a buffer. */

/** @import { Store, View, Shown } from "./store.js" */
import { walk } from "./chain.js";
import { make, write } from "./dom.js";
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

/**
 * How the board compares with the lead straight into the amp.
 * @param {Shown} shown
 * @returns {string}
 */
const compared = (shown) => {
  const { data, found } = shown;
  if (!Number.isFinite(found.direct) || voiced(shown)) return "";
  const text = decibel(Math.abs(found.direct));
  const straight = `${played(data.instrument)} straight into the amp`;
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
    const said = sentence(shown, shown.data);
    const others = [said.more, said.level, buffered && !held && !dragging ? compared(shown) : ""];
    write(title, said.title);
    write(more, others.filter((text) => text).join(" "));
    clearTimeout(timer);
    timer = setTimeout(() => write(spoken, `${title.textContent} ${more.textContent}`), spokenAfter);
  };

  store.subscribe((view, before) => {
    watch(view, before);
    if (view.shown !== before.shown || view.answer !== before.answer || view.dragging !== before.dragging) show(view);
  });
  show(store.view());
};
