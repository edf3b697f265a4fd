/* Worth trying: what would help most in the state that is shown. Looking shows it, pressing does it. */

/** @import { Fault, Worth } from "./types.js" */
/** @import { Store, View } from "./store.js" */
import { make, set, write } from "./dom.js";
import { decibel } from "./words.js";

const askedAgainAfter = 400;
const askedAfter = 120; // [ms] without a change, after which the server is asked

/** @param {Worth} worth */
const fromTo = (worth) => `${decibel(worth.now)} → ${decibel(worth.then)} dB`;

/**
 * @param {Store} store
 * @param {HTMLElement} holder
 * @param {{worth: (on: string[], signal: AbortSignal) => Promise<{list: Worth[]}>}} server
 */
export const tryingView = (store, holder, server) => {
  const nothing = make("p", { class: "quiet", tabindex: "-1" });
  const list = make("ul", { tabindex: "-1", "aria-label": "What is worth trying now" });
  set(holder, { role: "group", "aria-label": "Worth trying" });
  holder.append(make("h2", {}, "Worth trying"), nothing, list);
  const others = make("button", { type: "button", class: "more", "aria-expanded": "false" });
  /** @type {{item: HTMLLIElement, button: HTMLButtonElement, what: Text, number: HTMLElement, worst: HTMLElement}[]} */
  const rows = [];
  let looking = -1;
  let answered = false;
  let unknown = "";

  /** @param {number} index */
  const look = (index) => {
    const { worth, dragging, hand } = store.view();
    if (dragging || hand || worth.busy || !worth.list[index]) return;
    looking = index;
    store.preview(worth.list[index].edit, "ghost");
  };
  const leave = () => {
    if (looking >= 0) {
      looking = -1;
      if (!store.view().dragging) store.restore();
    }
  };
  /** @param {number} index */
  const take = (index) => {
    const { worth, busy, dragging } = store.view();
    const wanted = worth.list[index];
    if (!wanted || worth.busy || busy || dragging) return;
    looking = -1;
    /* Another change will stand on this button: whoever presses once more does not mean that one. */
    list.focus({ preventScroll: true });
    store.edit(wanted.edit);
  };

  const add = () => {
    const index = rows.length;
    const what = document.createTextNode("");
    const number = make("b");
    const worst = make("small");
    const button = make("button", { type: "button" }, make("span", { class: "what" }, what), number, worst);
    const item = make("li", {}, button, index === 0 && others);
    button.addEventListener("pointerenter", (event) => { if (event.pointerType !== "touch") look(index); });
    button.addEventListener("pointerleave", leave);
    button.addEventListener("focus", () => { if (button.matches(":focus-visible")) look(index); });
    button.addEventListener("blur", leave);
    button.addEventListener("click", () => take(index));
    rows.push({ item, button, what, number, worst });
    list.append(item);
  };

  /** The list has ended while it or one of its buttons had the focus: it goes to what stands there now. */
  const keepFocus = () => {
    const [held, other] = document.activeElement === nothing ? [nothing, list] : [list, nothing];
    if (document.activeElement === held && held.hidden) other.focus({ preventScroll: true });
    const hidden = rows.find(({ item, button }) => item.hidden && document.activeElement === button);
    if (!hidden) return;
    const last = rows.filter(({ item }) => !item.hidden).pop();
    (last ? last.button : nothing).focus();
  };

  /** @param {View} view */
  const show = ({ worth }) => {
    while (rows.length < worth.list.length) add();
    nothing.hidden = worth.list.length > 0;
    list.hidden = worth.list.length === 0;
    write(nothing, worth.busy || !(answered || unknown) ? "Looking …" : unknown || "No single change helps by 0.2 dB or more.");
    rows.forEach(({ item, what, number, worst }, index) => {
      const one = worth.list[index];
      if (one) {
        what.data = one.withLead ? `${one.words}, with its lead` : one.words;
        write(number, fromTo(one));
        write(worst, Number.isFinite(one.worst) ? `worst ${decibel(one.worst)}` : "");
      }
      item.hidden = !one;
    });
    set(list, { "aria-busy": String(worth.busy) });
    others.hidden = worth.list.length < 2;
    letterOthers(worth.list.length);
    keepFocus();
  };

  /** @param {number} count */
  const letterOthers = (count) => {
    const open = list.classList.contains("all");
    write(others, open ? "less" : `+${count - 1}`);
    set(others, { "aria-expanded": String(open), "aria-label": open ? "less to try" : `+${count - 1} more to try` });
  };
  others.addEventListener("click", () => {
    list.classList.toggle("all");
    letterOthers(store.view().worth.list.length);
  });

  /** @type {ReturnType<typeof setTimeout>|undefined} */
  let timer;
  let flight = new AbortController();
  const ask = async () => {
    const mine = flight = new AbortController();
    try {
      const { list: found } = await server.worth(store.names(), mine.signal);
      if (mine.signal.aborted) return;
      answered = true;
      unknown = "";
      store.change({ worth: { busy: false, list: found } });
    } catch (error) {
      if (mine.signal.aborted) return;
      /* An answer to a question that has grown old says nothing: it is asked again. */
      const { fault, revision } = /** @type {{fault?: Fault, revision?: number}} */ (error);
      if (revision !== undefined) timer = setTimeout(ask, askedAgainAfter);
      else {
        unknown = fault?.text ?? "The program behind this page does not answer.";
        store.change({ worth: { busy: false, list: [] } });
      }
    }
  };
  const again = () => {
    clearTimeout(timer);
    flight.abort();
    if (!store.view().worth.busy) store.change({ worth: { ...store.view().worth, busy: true } });
    timer = setTimeout(ask, askedAfter);
  };

  store.subscribe((view, before) => {
    if (view.worth !== before.worth) show(view);
    const other = view.steady !== before.steady;
    if (view.dragging) {
      if (before.dragging) return;
      clearTimeout(timer);
      flight.abort();
      store.change({ worth: { ...view.worth, busy: true } });
    } else if (other || (before.dragging && view.worth.busy)) again();
  });
  show(store.view());
  again();
};
