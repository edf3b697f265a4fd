/* What is shown, in one place. Modules read `view()` and change it by the functions here; all of
   them are told of each change once, and all of them draw from the same answer. */

/** @import { Answer, BoardData, Edit, Fault, Found, GapOffer, Model, Worth } from "./types.js" */
import { positionsOf } from "./positions.js";

/**
 * A board with its model and the numbers of the state that is shown.
 * @typedef {object} Shown
 * @property {BoardData} data
 * @property {Model} model
 * @property {Set<number>} on numbers of the switches that are on
 * @property {Found} found
 */

/**
 * @typedef {object} Hand a part in hand, looking for its gap
 * @property {string} part
 * @property {string} name
 * @property {GapOffer[]|null} gaps null until they are computed
 * @property {boolean} [busy] these numbers are of the state before; new ones are on their way
 */

/**
 * @typedef {object} Pin a curve that was kept
 * @property {string} name
 * @property {Found} found
 * @property {Model} model
 */

/**
 * @typedef {object} View
 * @property {Shown} shown what is drawn: the drag's board while one is dragged, as saved while held
 * @property {Shown} steady the document, without drag and hold
 * @property {Shown|null} ghost what a change would give
 * @property {Shown|null} saved as the file on disk has it; null where there is no file yet
 * @property {Answer|null} answer null on a report
 * @property {boolean} dragging
 * @property {boolean} held "as saved" is held down
 * @property {string|null} selected key of what the drawer shows
 * @property {number} chosen number of the scene that was chosen last, for a page with scenes only
 * @property {Hand|null} hand
 * @property {{busy: boolean, list: Worth[]}} worth
 * @property {Pin[]} pins
 * @property {boolean} busy an edit is on its way
 * @property {boolean} offline the server has gone
 * @property {Fault|null} fault of the last edit
 */

/**
 * What carries edits away and brings answers: the server, or nothing on a report.
 * @typedef {object} Carrier
 * @property {(edit: Edit, revision: number) => Promise<Answer>} edit
 * @property {(edit: Edit, revision: number) => Promise<Answer>} attempt the answer as if; nothing is kept
 * @property {(what: "undo"|"redo"|"save", more?: object) => Promise<Answer>} step
 */

/** @typedef {(view: View, before: View) => void} Listener */
/** @typedef {ReturnType<typeof positionsOf>} Positions */

/**
 * @param {BoardData} data
 * @param {(data: BoardData) => Model} modelOf
 * @param {Positions} wanted what is on
 * @returns {Shown}
 */
const showing = (data, modelOf, wanted) => {
  const model = modelOf(data);
  const on = wanted.of(data);
  return { data, model, on, found: data.live ? model.state(on) : model.stored(data.states[0]) };
};

/**
 * @param {Answer|null} answer
 * @param {BoardData} data
 * @param {(data: BoardData) => Model} modelOf
 * @param {Carrier|null} carrier
 */
export const createStore = (answer, data, modelOf, carrier) => {
  const wanted = positionsOf();
  wanted.put(data, data.states[0].on);
  let deepest = 0;
  const first = showing(data, modelOf, wanted);
  /** @type {View} */
  let view = {
    shown: first, steady: first, ghost: null,
    saved: answer?.saved ? showing(answer.saved, modelOf, wanted) : null,
    answer, dragging: false, held: false, selected: null, chosen: 0, hand: null,
    worth: { busy: false, list: [] }, pins: [], busy: false, offline: false, fault: null,
  };
  /** @type {Set<Listener>} */
  const listeners = new Set();

  /** @param {Partial<View>} change */
  const change = (change) => {
    const before = view;
    view = { ...view, ...change };
    listeners.forEach((listener) => listener(view, before));
  };

  /** The same boards in another state.
   * @param {Shown|null} shown
   * @returns {Shown} */
  const again = (shown) => {
    if (!shown) throw new Error("nothing is shown");
    const on = wanted.of(shown.data);
    return { ...shown, on, found: shown.data.live ? shown.model.state(on) : shown.found };
  };

  const switched = () => {
    const steady = again(view.steady);
    change({
      steady, shown: view.shown === view.steady ? steady : again(view.shown),
      ghost: view.ghost && again(view.ghost), saved: view.saved && again(view.saved),
    });
  };

  /** @param {Answer} answer */
  const take = (answer) => {
    wanted.follow(view.steady.data, answer.board);
    const steady = showing(answer.board, modelOf, wanted);
    const saved = answer.saved ? showing(answer.saved, modelOf, wanted) : view.saved;
    change({ answer, steady, shown: steady, saved, ghost: null, dragging: false, held: false, busy: false, fault: null });
  };

  /** @param {unknown} error */
  const failed = (error) => {
    const { fault: one = null, faults } = /** @type {{fault?: Fault, faults?: Fault[]}} */ (error);
    const fault = one && faults ? { ...one, faults } : one;
    change({ busy: false, dragging: false, ghost: null, shown: view.steady, fault, offline: fault === null });
  };

  /** @param {() => Promise<Answer>} ask */
  const carried = async (ask) => {
    change({ busy: true });
    try {
      take(await ask());
      return true;
    } catch (error) {
      failed(error);
      return false;
    }
  };

  /* One request in the air; of those that wait the newest wins. */
  let flying = false;
  /** @type {{edit: Edit, kind: "drag"|"ghost"}|null} */
  let waiting = null;
  let round = 0;
  const fly = async () => {
    if (flying || !waiting || !carrier || !view.answer) return;
    const { edit, kind } = waiting;
    const mine = round;
    waiting = null;
    flying = true;
    try {
      const answer = await carrier.attempt(edit, view.answer.revision);
      if (mine === round) {
        const shown = showing(answer.board, modelOf, wanted);
        change(kind === "drag" ? { shown, dragging: true, fault: null } : { ghost: shown, fault: null });
      }
    } catch (error) {
      const fault = /** @type {{fault?: Fault}} */ (error).fault ?? null;
      if (mine === round) change({ fault, offline: fault === null });
    }
    flying = false;
    fly();
  };

  return {
    view: () => view,
    /** @param {Listener} listener */
    subscribe: (listener) => {
      listeners.add(listener);
      return () => listeners.delete(listener);
    },
    change,
    take,

    /* ---- switches: not a step, the file does not change ---- */
    /** @param {number} number of `steady` */
    toggle: (number) => {
      wanted.toggle(view.steady.data, number);
      switched();
    },
    /** @param {number} index of a state with a button */
    choose: (index) => {
      const { data, model } = view.steady;
      const state = data.states[index];
      wanted.put(data, state.on);
      if (data.live) {
        change({ chosen: index });
        switched();
      } else {
        const steady = { ...view.steady, on: new Set(state.on), found: model.stored(state) };
        change({ chosen: index, steady, shown: steady });
      }
    },
    /** Names that are on, as an edit wants them. */
    names: () => {
      const on = wanted.of(view.steady.data);
      return view.steady.data.switches.filter((_, i) => on.has(i));
    },
    /** Another board, with what is on left on; one of scenes only begins with the first.
     * @param {BoardData} data */
    show: (data) => {
      const steady = showing(data, modelOf, wanted);
      change({ steady, shown: steady, ghost: null, chosen: data.live ? view.chosen : 0 });
    },

    /* ---- edits ---- */
    /** @param {Edit} edit */
    edit: (edit) => {
      round += 1;
      waiting = null;
      const { answer } = view;
      return carrier && answer
        ? carried(() => carrier.edit(edit, answer.revision)) : Promise.resolve(false);
    },
    /** Show what an edit would give: as the board itself while it is dragged, else as a ghost.
     * @param {Edit} edit
     * @param {"drag"|"ghost"} kind */
    preview: (edit, kind) => {
      waiting = { edit, kind };
      if (kind === "drag" && !view.dragging) change({ dragging: true });
      fly();
    },
    /** Put back what a preview showed. */
    restore: () => {
      round += 1;
      waiting = null;
      change({ shown: view.steady, ghost: null, dragging: false, fault: null });
    },
    /** @param {"undo"|"redo"|"save"} what
     * @param {object} [more] */
    step: (what, more) => (carrier ? carried(() => carrier.step(what, more)) : Promise.resolve(false)),

    /* ---- what is looked at ---- */
    /** @param {string|null} key */
    select: (key) => change({ selected: key }),
    /** @param {Hand|null} hand */
    hold: (hand) => change({ hand, ghost: null }),
    /** @param {boolean} held */
    compare: (held) => {
      if (held && view.saved) change({ held: true, shown: again(view.saved) });
      else if (view.held) change({ held: false, shown: view.steady });
    },
    /** @param {string} name */
    pin: (name) => change({ pins: [...view.pins, { name, found: view.steady.found, model: view.steady.model }] }),
    /** @param {number} index */
    unpin: (index) => change({ pins: view.pins.filter((_, i) => i !== index) }),

    /** The floor of the curve: it grows, it never shrinks.
     * @param {number} db lowest that is drawn, below zero */
    floor: (db) => {
      if (Number.isFinite(db) && db < deepest) deepest = db;
      return Math.min(-12, Math.floor(deepest / 6) * 6);
    },
  };
};

/** @typedef {ReturnType<typeof createStore>} Store */
