/* The drawer of what is selected: beside the curve, on a phone one row above the bar until opened. */

import { conditionOf, focusKey, keyAfter, nearestKey, newKey, thingOf } from "./chain.js";
import { noteOf, rowsOf } from "./drawer_rows.js";
import { make, set, write } from "./dom.js";
import { papers } from "./papers.js";
import { insertList, partsOf } from "./parts.js";
import { partPicks, picker } from "./picker.js";
import { errorWords, sendEdit } from "./sending.js";

/** @import { Details, Server } from "./asked.js" */
/** @import { DrawerRow, Hands, Now } from "./drawer_rows.js" */
/** @import { Store } from "./store.js" */
/** @import { At, BoardData, Edit } from "./types.js" */

/** @typedef {{focus: (key: string) => unknown}} Line */

const NARROW_WINDOW = "(max-width: 599px)";

const shell = () => {
  const name = make("h2", { class: "name", id: "drawer-name" });
  const state = make("span", { class: "state" });
  const change = make("button", { type: "button", class: "change" }, "change…");
  const shut = make("button", { type: "button", class: "shut" }, "close");
  const note = make("p", { class: "hint" });
  const body = make("div", { class: "drawer-body" });
  const element = make("section", { class: "drawer", "aria-labelledby": "drawer-name", hidden: true },
    make("div", { class: "drawer-head" }, name, state, change, shut), note, body);
  return { name, state, change, shut, note, body, element };
};

/** @param {Element} holder
 * @returns {HTMLElement|null} what takes the focus in it */
const firstControl = (holder) => /** @type {HTMLElement|null} */ (
  [...holder.querySelectorAll("button, input, select, summary")].find((found) => /** @type {HTMLElement} */ (found).offsetParent !== null) ?? null);

/**
 * @param {Store} store
 * @param {HTMLElement} holder
 * @param {Server} server
 * @param {Line} line
 */
export const drawerView = (store, holder, server, line) => {
  const parts = shell();
  const { element, body } = parts;
  holder.append(element);
  /** @type {string|null} */
  let key = null;
  /** @type {DrawerRow[]} */
  let rows = [];
  /** @type {Details|null} */
  let details = null;
  let asking = 0;
  let listing = false;
  let figures = papers();

  /** @returns {Now|null} */
  const current = () => {
    const view = store.view();
    const thing = thingOf(view.steady.data, key);
    return thing && { thing, view, details };
  };
  /** @param {string} wanted */
  const toLine = (wanted) => line.focus(focusKey(store.view().steady.data, wanted));
  const hasFocus = () => element.contains(document.activeElement);
  const room = () => {
    const narrow = window.matchMedia(NARROW_WINDOW).matches;
    document.documentElement.style.setProperty("--drawer-room", narrow && !element.hidden ? `${element.offsetHeight}px` : "0px");
  };
  /** What is selected stands free above the drawer on a phone. */
  const uncover = () => {
    room();
    if (!window.matchMedia(NARROW_WINDOW).matches || key === null) return;
    document.querySelector(`#line ${listing ? ".gap" : ""}[data-key="${CSS.escape(key)}"]`)?.scrollIntoView({ block: "nearest" });
  };

  const update = () => {
    const now = current();
    if (!now) return;
    write(parts.name, now.thing.name);
    write(parts.state, conditionOf(now.thing, now.view));
    write(parts.note, noteOf(now));
    set(parts.change, { "aria-label": `change… ${now.thing.name}`, "aria-expanded": String(element.classList.contains("opened")) });
    rows.forEach((row) => row.update(now));
    figures.update(details);
  };
  const askDetails = async () => {
    const at = current()?.thing.at;
    asking += 1;
    const mine = asking;
    if (at === undefined) {
      details = null;
      update();
      return;
    }
    try {
      const found = await server.details(at);
      if (mine !== asking) return;
      details = found;
      update();
    } catch {
      /* The last figures stay; that the server is gone is said for the whole page. */
    }
    room();
  };

  /** @type {Hands} */
  const hands = {
    get now() {
      const now = current();
      if (!now) throw new Error("nothing is shown");
      return now;
    },
    send: (edit) => sendEdit(store, () => {
      const at = current()?.thing.at;
      return at === undefined ? null : edit(at);
    }),
    toggle: (number = current()?.thing.item?.s) => {
      if (number !== undefined) store.toggle(number);
    },
    choosePart: (kind, label, editOf) => choosePart(kind, label, editOf),
    putIn: () => {
      if (key !== null) insert(key);
    },
  };
  const build = () => {
    listing = false;
    element.classList.remove("listing");
    const now = current();
    if (!now) return;
    figures = papers();
    rows = rowsOf(hands);
    body.replaceChildren(...rows.map((row) => row.element), figures.element);
    update();
  };
  /** @param {string|null} next */
  const show = (next) => {
    key = next;
    details = null;
    const there = current() !== null;
    element.hidden = !there;
    if (!there) {
      key = null;
      rows = [];
      element.classList.remove("opened");
      body.replaceChildren();
    } else {
      build();
      askDetails();
      [element, holder].forEach((one) => { one.scrollTop = 0; });
    }
    uncover();
  };

  /** @param {boolean} opened */
  const expand = (opened) => {
    element.classList.toggle("opened", opened);
    set(parts.change, { "aria-expanded": String(opened) });
    uncover();
  };
  const close = () => {
    const back = key;
    if (listing) store.restore();
    const narrow = window.matchMedia(NARROW_WINDOW).matches;
    const inside = hasFocus();
    expand(false);
    listing = false;
    if (narrow) build(); else store.select(null);
    if (back !== null && inside) toLine(back);
  };
  /** @param {string} wanted */
  const open = (wanted) => {
    if (store.view().selected !== wanted) store.select(wanted);
    if (key !== wanted || listing) show(wanted);
    expand(true);
    (firstControl(body) ?? parts.shut).focus();
  };
  /** @param {{element: HTMLElement, focus: () => void}} list */
  const showList = (list) => {
    listing = true;
    element.classList.add("listing");
    rows = [];
    body.replaceChildren(list.element);
    expand(true);
    list.focus();
  };
  /** @param {string} kind
   * @param {string} label
   * @param {(at: At, part: string) => Edit} editOf */
  const choosePart = async (kind, label, editOf) => {
    let wrong = "";
    const offers = await partsOf(server).catch((error) => {
      wrong = errorWords(error);
      return [];
    });
    const at = current()?.thing.at;
    if (at === undefined) return;
    const back = () => {
      build();
      expand(true);
      firstControl(body)?.focus();
    };
    const list = picker({
      label, keep: "take", picks: partPicks(offers, kind, (part) => editOf(at, part.part)),
      preview: (pick) => (pick ? store.preview(pick.edit, "ghost") : store.restore()),
      take: async (pick) => {
        const words = await hands.send((now) => editOf(now, pick.edit.part ?? ""));
        if (!words) back();
        return words;
      },
      leave: () => {
        store.restore();
        back();
      },
    });
    list.say(wrong);
    showList(list);
  };
  /** @param {string} gap key of the cable or joint */
  const insert = async (gap) => {
    if (store.view().selected !== gap) store.select(gap);
    if (key !== gap) show(gap);
    const before = store.view().steady.data;
    const list = await insertList(store, server, gap, (done) => {
      const { data } = store.view().steady;
      const young = done ? newKey(before, data) ?? nearestKey(before, data, gap) : gap;
      listing = false;
      if (young !== key) store.select(young); else build();
      expand(false);
      toLine(young);
    });
    if (key === gap) showList(list);
  };

  parts.change.addEventListener("click", () => {
    if (key !== null) open(key);
  });
  parts.shut.addEventListener("click", close);
  element.addEventListener("keydown", (event) => {
    if (event.key !== "Escape" || event.defaultPrevented) return;
    event.preventDefault();
    event.stopPropagation();
    close();
  });
  /** After a step: the same thing under its key of now, or nothing.
   * @param {BoardData} before
   * @param {BoardData} after */
  const follow = (before, after) => {
    const old = /** @type {string} */ (key);
    const focused = hasFocus();
    const next = keyAfter(before, after, old);
    if (next === null) {
      store.select(null);
      if (focused) toLine(nearestKey(before, after, old));
      return;
    }
    key = next;
    if (next !== old) store.select(next);
    if (!listing) update();
    askDetails();
  };
  store.subscribe((view, before) => {
    const moved = view.steady.data !== before.steady.data;
    if (moved && key !== null && view.selected === key) follow(before.steady.data, view.steady.data);
    else if (view.selected !== key) {
      if (listing) store.restore();
      show(view.selected);
    } else if (view.steady !== before.steady && !listing) update();
  });
  window.addEventListener("resize", room);
  show(store.view().selected);
  return { open, close, insert };
};
