/* Scenes: one button each with its number. Buttons are made once and only re-lettered. */

/** @import { Model, Named } from "./types.js" */
/** @import { Store, Shown } from "./store.js" */
import { make, set, write } from "./dom.js";
import { decibel } from "./words.js";

/**
 * States that share a button.
 * @typedef {object} Shared
 * @property {string} key
 * @property {string} label
 * @property {number[]} indices of the states
 */

/** @typedef {{button: HTMLButtonElement, name: Text, number: HTMLElement, shared: Shared}} Entry */

const namesShown = 2; // on a button that many scenes share
const frameShare = 4; // [ms] of a frame that letters may take

/** @param {Named} state */
const called = (state) => (
  state.kind === "scene" ? state.name : `${state.name[0].toLowerCase()}${state.name.slice(1)}`);

/** By what a state is known from one answer to the next: all off and the worst may be called otherwise.
 * @param {Named} state */
const stateKey = ({ kind, name }) => (kind === "scene" ? `scene ${name}` : kind);

/**
 * Scenes with equal switches together; the worst of all has its button alone, at the end.
 * @param {Shown} shown
 * @returns {Shared[]}
 */
const sharedStates = ({ data, model }) => {
  /** @type {Map<string, number[]>} */
  const groups = new Map();
  data.states.forEach((state, index) => {
    const key = state.kind === "worst" || !data.live ? `${state.kind} ${index}` : model.heard(new Set(state.on));
    groups.set(key, [...(groups.get(key) ?? []), index]);
  });
  const last = (/** @type {number[]} */ indices) => Number(data.states[indices[0]].kind === "worst");
  return [...groups.values()].sort((a, b) => last(a) - last(b)).map((indices) => {
    const named = indices.map((i) => data.states[i]);
    const scenes = named.filter((state) => state.kind !== "off");
    const names = [...scenes, ...named.filter((state) => state.kind === "off")].map(called);
    const label = names.length > namesShown + 1
      ? `${names.slice(0, namesShown).join(" = ")} = ${names.length - namesShown} more` : names.join(" = ");
    return { key: stateKey(named[0]), label, indices };
  });
};

/** @type {WeakMap<Model, Map<string, number>>} */
const treblesFound = new WeakMap();

/**
 * The number of a state on the board that is shown, found by its name: a drag may change the list.
 * It is computed once: a switch changes the state that is shown, and no scene.
 * @param {Shown} shown
 * @param {Named} wanted
 * @returns {number} [dB]
 */
const trebleOfScene = ({ data, model }, wanted) => {
  const state = data.states.find((other) => stateKey(other) === stateKey(wanted)) ?? wanted;
  const found = treblesFound.get(model) ?? new Map();
  treblesFound.set(model, found);
  const key = data.live ? model.heard(new Set(state.on)) : `${state.kind} ${state.name} ${state.board}`;
  if (!found.has(key)) found.set(key, (data.live ? model.state(new Set(state.on)) : model.stored(state)).treble);
  return found.get(key);
};

/**
 * @param {Store} store
 * @param {HTMLElement} holder
 * @param {{rows?: number, phoneRows?: number}} options rows before the rest is behind "more"
 */
export const scenesView = (store, holder, options = {}) => {
  set(holder, { role: "group", "aria-label": "Scenes" });
  const more = make("button", { type: "button", class: "more" });
  /** @type {Map<string, Entry>} */
  const made = new Map();
  /** @type {string} */
  let chosen = "";
  let lit = "";
  /** @type {Shared[]} */
  let list = [];
  let open = false;
  let lettered = "";
  let width = 0;

  /** @param {Shared} shared */
  const press = (shared) => {
    const { data, model, on } = store.view().steady;
    const same = shared.indices.find((i) => data.live && model.heard(new Set(data.states[i].on)) === model.heard(on));
    chosen = shared.key;
    store.choose(same ?? shared.indices[0]);
  };

  /** @param {Shared} shared */
  const add = (shared) => {
    const name = document.createTextNode("");
    const number = make("b");
    const button = make("button", { type: "button" }, name, number);
    const entry = { button, name, number, shared };
    button.addEventListener("click", () => press(entry.shared));
    made.set(shared.key, entry);
    return entry;
  };

  /** Only buttons that are new or gone are touched, so that the focus stays where it is.
   * @param {Shared[]} list */
  const place = (list) => {
    const keys = new Set(list.map((shared) => shared.key));
    made.forEach(({ button }, key) => {
      if (!keys.has(key)) {
        button.remove();
        made.delete(key);
      }
    });
    list.forEach((shared, i) => {
      const entry = made.get(shared.key) ?? add(shared);
      entry.shared = shared;
      if (holder.children[i] !== entry.button) holder.insertBefore(entry.button, holder.children[i] ?? null);
    });
    if (more.parentElement !== holder) holder.append(more);
  };

  /** The button of what is on: the one that was pressed, or else the first that fits.
   * @returns {string} */
  const pressed = () => {
    const { data, model, on } = store.view().steady;
    if (!data.live) return chosen;
    const now = model.heard(on);
    const fitting = list.filter(({ indices }) => indices.some((i) => model.heard(new Set(data.states[i].on)) === now));
    return (fitting.find(({ key }) => key === chosen) ?? fitting[0])?.key ?? "";
  };

  /** @param {Entry} entry */
  const letterOne = ({ button, name, number, shared }) => {
    const { steady: { data }, shown } = store.view();
    const state = data.states[shared.indices[0]];
    const text = decibel(trebleOfScene(shown, state));
    const title = shared.indices.map((i) => data.states[i].title).filter((t) => t).join(", ");
    name.data = `${shared.label} `;
    write(number, text);
    set(button, {
      "aria-pressed": String(shared.key === lit), title: title || null,
      "aria-label": text === "-" ? `${shared.label} -, silent` : `${shared.label} ${text} dB of treble lost`,
    });
  };
  /* While something is dragged the frame with the answer draws what is under the hand; the letters
     come in the frames after it, as many in each as it has time for, the oldest first. */
  let frame = 0;
  /** @type {Set<Entry>} */
  let waiting = new Set();
  const letterSome = () => {
    const start = performance.now();
    for (const entry of waiting) {
      letterOne(entry);
      waiting.delete(entry);
      if (performance.now() - start > frameShare) break;
    }
    if (waiting.size) frame = requestAnimationFrame(letterSome);
  };
  const letter = () => {
    lit = pressed();
    cancelAnimationFrame(frame);
    waiting = new Set([...[...waiting].filter((entry) => made.get(entry.shared.key) === entry), ...made.values()]);
    if (store.view().dragging) frame = requestAnimationFrame(letterSome);
    else {
      waiting.forEach(letterOne);
      waiting.clear();
    }
  };

  /** Rows beyond the allowed ones are behind "more"; the worst and the pressed one stay. */
  const tuck = () => {
    const entries = [...made.values()].map((entry) => entry.button);
    const rows = window.matchMedia("(max-width: 599px)").matches ? options.phoneRows ?? 2 : options.rows ?? 1;
    [...entries, more].forEach((button) => { button.hidden = false; });
    write(more, `${entries.length} more`);
    const limit = [...new Set(entries.map((button) => button.offsetTop))][rows];
    more.hidden = limit === undefined;
    let count = 0;
    if (limit !== undefined && !open) {
      const last = entries[entries.length - 1];
      const mayGo = entries.slice(1, -1).filter((button) => button.getAttribute("aria-pressed") !== "true");
      while (mayGo.length && Math.max(last.offsetTop, more.offsetTop) >= limit) {
        /** @type {HTMLElement} */ (mayGo.pop()).hidden = true;
        count += 1;
      }
    }
    write(more, open ? "fewer" : `${count} more`);
    set(more, { "aria-expanded": String(open), "aria-label": `${more.textContent} scenes` });
  };

  const tidy = () => {
    const text = [...made.values()].map((entry) => `${entry.name.data}${entry.number.textContent}`.length).join();
    if (width === 0 || store.view().dragging || `${width} ${open} ${text}` === lettered) return;
    lettered = `${width} ${open} ${text}`;
    tuck();
  };
  more.addEventListener("click", () => {
    open = !open;
    tidy();
  });

  list = sharedStates(store.view().steady);
  const keyOf = (/** @type {number} */ index) => list.find((s) => s.indices.includes(index))?.key ?? "";
  chosen = keyOf(store.view().chosen);
  place(list);
  letter();
  new ResizeObserver(() => {
    width = holder.clientWidth;
    tidy();
  }).observe(holder);
  store.subscribe((view, before) => {
    if (view.steady.data !== before.steady.data) place(list = sharedStates(view.steady));
    if (view.chosen !== before.chosen) chosen = keyOf(view.chosen);
    if (view.shown === before.shown && view.steady === before.steady && view.chosen === before.chosen) return;
    letter();
    tidy();
  });
};
