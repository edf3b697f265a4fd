/* The way to the server: questions and edits there, answers back, and what happens meanwhile. */

/** @import { Answers, Beside, Broken, Details, FileText, PartOffer, Section, Server } from "./asked.js" */
/** @import { Answer, At, Edit, Fault, GapOffer, Worth } from "./types.js" */

/**
 * What windows hear. `gone` is true when the server does not answer, false when it does again.
 * @typedef {Partial<Beside> & {revision?: number, rest?: boolean, gone?: boolean}} News
 */

/** What is wrong, as the server says it; without a fault the server is gone.
 * @typedef {object} Refusal
 * @property {Fault} [fault]
 * @property {Fault[]} [faults]
 * @property {string} [disk]
 * @property {number} [revision]
 * @property {Broken} [broken]
 */

const FIRST_WAIT = 500;
const LONGEST_WAIT = 5000;
const TEXT_REST = 400;
const STRANGER = "this page is not known any more: open the address that the terminal says";

/** @param {string} what
 * @returns {Refusal} */
const refusalOf = (what) => ({ fault: { text: what, what } });

/**
 * One request.
 * @param {string} path
 * @param {RequestInit} [options]
 * @returns {Promise<Response>}
 */
const fetched = async (path, options = {}) => {
  let response;
  try {
    response = await fetch(path, { credentials: "same-origin", cache: "no-store", ...options });
  } catch (error) {
    if (options.signal?.aborted) throw error;
    throw /** @type {Refusal} */ ({});
  }
  if (response.ok) return response;
  if (response.status === 403) throw refusalOf(STRANGER);
  let said = null;
  try {
    said = await response.json();
  } catch {
    throw refusalOf(`the server says ${response.status}`);
  }
  throw /** @type {Refusal} */ (said);
};

/** @param {unknown} what
 * @param {AbortSignal} [signal]
 * @returns {RequestInit} */
const posted = (what, signal) => ({
  method: "POST", body: JSON.stringify(what), headers: { "content-type": "application/json" }, signal,
});

/** A stream of news that comes back by itself, and rests where too many windows are open.
 * @param {(news: News) => void} tell */
const newsStream = (tell) => {
  /** @type {EventSource|null} */
  let source = null;
  let wait = FIRST_WAIT;
  let timer = 0;
  let resting = false;
  const close = () => {
    window.clearTimeout(timer);
    source?.close();
    source = null;
  };
  const open = () => {
    close();
    resting = false;
    source = new EventSource("/events");
    source.onopen = () => {
      wait = FIRST_WAIT;
      tell({ gone: false });
    };
    source.onmessage = (event) => {
      const news = /** @type {News} */ (JSON.parse(event.data));
      if (news.rest) {
        close();
        resting = true;
      } else tell(news);
    };
    source.onerror = () => {
      close();
      tell({ gone: true });
      timer = window.setTimeout(open, wait);
      wait = Math.min(2 * wait, LONGEST_WAIT);
    };
  };
  const wake = () => {
    if (resting && document.visibilityState === "visible") open();
  };
  document.addEventListener("visibilitychange", wake);
  window.addEventListener("focus", wake);
  window.addEventListener("pagehide", close);
  window.addEventListener("pageshow", (event) => {
    if (event.persisted) open();
  });
  open();
  return { close };
};

/** What is known of the document: its revision, here and there, and its text should the server go.
 * @param {(news: News) => void} tell */
const documentKnown = (tell) => {
  let revision = 0;
  let heard = 0;
  let flying = 0;
  let text = "";
  let timer = 0;
  const keepText = async () => {
    try {
      text = (await (await fetched("/text")).json()).text;
    } catch {
      /* What was kept before is better than nothing. */
    }
  };
  /* Of what this window does itself it learns from the answer. */
  const settle = () => {
    if (!flying && heard > revision) tell({ revision: heard });
  };
  return {
    revision: () => revision,
    text: () => text,
    /** @param {number} now */
    hear: (now) => {
      heard = Math.max(heard, now);
      settle();
    },
    /** @param {any} answer
     * @returns {any} */
    take: (answer) => {
      const now = answer.revision ?? answer.broken?.revision ?? 0;
      revision = Math.max(revision, now);
      window.clearTimeout(timer);
      if (now) timer = window.setTimeout(keepText, TEXT_REST);
      return answer;
    },
    /** @template T
     * @param {() => Promise<T>} work
     * @returns {Promise<T>} */
    while: async (work) => {
      flying += 1;
      try {
        return await work();
      } catch (error) {
        heard = Math.max(heard, /** @type {Refusal} */ (error).revision ?? 0);
        throw error;
      } finally {
        flying -= 1;
        settle();
      }
    },
  };
};

/** @returns {Server} */
export const createServer = () => {
  /** @type {Set<(news: News) => void>} */
  const listeners = new Set();
  /** @param {News} news */
  const tell = (news) => listeners.forEach((listener) => listener(news));
  const known = documentKnown(tell);
  /** @type {{close: () => void}|null} */
  let stream = null;
  let recording = false;
  /* A newer question of a window ends its older one, and not that of another window. */
  const mine = Math.random().toString(36).slice(2);
  /** @type {Map<string, string>} */
  const sounds = new Map();

  /** @param {string} path
   * @param {unknown} what
   * @param {AbortSignal} [signal]
   * @returns {Promise<any>} */
  const ask = async (path, what, signal) => (await fetched(path, posted(what, signal))).json();
  /** @param {string} path
   * @returns {Promise<any>} */
  const get = async (path) => (await fetched(path)).json();
  /** A change of the document; what cannot be shown as a board any more is refused.
   * @param {string} path
   * @param {unknown} what
   * @returns {Promise<Answer>} */
  const change = (path, what) => known.while(async () => {
    const answer = known.take(await ask(path, what));
    if (answer.broken) throw /** @type {Refusal} */ ({ fault: answer.broken.faults[0], ...answer });
    return answer;
  });

  /* Open from the beginning: the server ends when no window listens any more. */
  const listen = () => {
    stream ??= newsStream((news) => {
      const { revision, ...more } = news;
      if (revision) known.hear(revision);
      if (Object.keys(more).length) tell(more);
    });
  };

  return {
    kept: known.text,
    document: async () => {
      const answer = known.take(await get("/document"));
      listen();
      return answer;
    },
    /** @param {Edit} edit
     * @param {number} revision */
    edit: (edit, revision) => change("/edit", { edit, revision }),
    /** @param {Edit} edit
     * @param {number} revision
     * @returns {Promise<Answer>} */
    attempt: (edit, revision) => ask("/try", { edit, revision }),
    /** @param {"undo"|"redo"|"save"} what
     * @param {object} [more] */
    step: (what, more = {}) => change(`/${what}`, more),
    /** @param {(news: News) => void} listener
     * @returns {() => void} ends it */
    events: (listener) => {
      listeners.add(listener);
      listen();
      return () => listeners.delete(listener);
    },
    /** @param {string[]} on
     * @param {AbortSignal} [signal]
     * @returns {Promise<{list: Worth[]}>} */
    worth: (on, signal) => ask("/worth", { on, revision: known.revision(), window: mine }, signal),
    /** @param {string} part
     * @param {string[]} on
     * @param {AbortSignal} [signal]
     * @returns {Promise<{gaps: GapOffer[]}>} */
    gaps: (part, on, signal) => ask("/gaps", { part, on, revision: known.revision(), window: mine }, signal),
    /** @returns {Promise<PartOffer[]>} */
    parts: () => get("/parts"),
    /** @param {At} at
     * @returns {Promise<Details>} */
    details: (at) => ask("/details", { at, revision: known.revision() }),
    /** @returns {Promise<FileText>} */
    text: () => get("/text"),
    /** @param {"now"|"saved"} which
     * @param {string[]} on
     * @returns {Promise<string>} address of a sound */
    listen: async (which, on) => {
      const sound = await (await fetched("/listen", posted({ which, on, recording }))).blob();
      URL.revokeObjectURL(sounds.get(which) ?? "");
      sounds.set(which, URL.createObjectURL(sound));
      return /** @type {string} */ (sounds.get(which));
    },
    /** @param {File} file */
    upload: async (file) => {
      const headers = { "content-type": "application/octet-stream" };
      await fetched("/recording", { method: "POST", body: file, headers });
      recording = true;
    },
    /** @param {"keep"|"take"} choice */
    conflict: (choice) => change("/disk", { choice }),
    /** @param {"take"|"drop"} choice */
    draft: (choice) => change("/draft", { choice }),
    /** @returns {Promise<{sign: string, text: string}[]>} */
    difference: async () => (await get("/difference")).lines,
    /** @param {Answers} answers */
    create: (answers) => change("/new", answers),
    /** @param {string} name
     * @returns {Promise<Section>} */
    panel: (name) => get(`/panel/${encodeURIComponent(name)}`),
    sheetURL: () => "/sheet",
    /** @param {string} file of a board in a loop
     * @returns {Promise<string>} address of its page */
    included: async (file) => (await ask("/included", { file })).address,
    leave: () => stream?.close(),
  };
};
