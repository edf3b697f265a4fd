/* The editor: what the server has is put into the store, and each thing on the screen beside it. */

/** @import { Server } from "./asked.js" */
/** @import { Store } from "./store.js" */
/** @import { Answer } from "./types.js" */
import { barView } from "./bar.js";
import { createServer } from "./carrier.js";
import { curveView } from "./curve.js";
import { dialogsView } from "./dialogs.js";
import { find } from "./dom.js";
import { dragging } from "./drag.js";
import { drawerView } from "./drawer.js";
import { faultView } from "./fault.js";
import { fitCurve, roomForLine, whileSettling } from "./fit.js";
import { followServer } from "./follow.js";
import { bufferInHand } from "./hand.js";
import { keys } from "./keys.js";
import { lineView } from "./line.js";
import { mendView } from "./mend.js";
import { createModel } from "./model.js";
import { noticeView } from "./notice.js";
import { panels } from "./panels.js";
import { scenesView } from "./scenes.js";
import { sentenceView } from "./sentence.js";
import { startView } from "./start.js";
import { createStore } from "./store.js";
import { stripView } from "./strip.js";
import { tryingView } from "./trying.js";
import { wholeNumbers } from "./whole.js";

/** @param {Store} store */
const titled = (store) => {
  const write = () => {
    const { answer } = store.view();
    document.title = `${answer?.unsaved ? "• " : ""}${answer?.title || answer?.file || "sigsim"}`;
  };
  store.subscribe((view, before) => { if (view.answer !== before.answer) write(); });
  write();
};

/** An included board, in a window of its own. It is opened at once, while a click allows it.
 * @param {Server} server
 * @param {string} file
 * @param {(text: string) => void} say */
const ownWindow = async (server, file, say) => {
  const other = window.open("", "_blank");
  try {
    const address = await server.included(file);
    if (other) other.location.href = address;
    else say(`${file} has a page of its own, which the browser would not open: ${address}`);
  } catch (error) {
    other?.close();
    say(/** @type {{fault?: {text: string}}} */ (error).fault?.text ?? `It has a file of its own: sigsim edit ${file}`);
  }
};

/** The line and all that hands do to it.
 * @param {Store} store
 * @param {Server} server
 * @param {(text: string) => void} say */
const lineByHand = (store, server, say) => {
  const holder = find("line");
  const hand = bufferInHand(store, server);
  const bar = barView(store, find("bar"), server, hand);
  const line = lineView(store, holder, {
    editable: true, room: () => roomForLine(holder),
    onOpen: (key) => drawer.open(key), onGap: (key) => { drawer.insert(key); },
    onEnd: (end) => { store.edit({ do: "at", name: end }); },
    onBoard: (file) => { ownWindow(server, file, say); },
  });
  const drawer = drawerView(store, find("drawer"), server, line);
  dragging(store, line);
  whileSettling(["head", "scenes", "trying", "words", "strip"].map(find), line.refit);
  keys(store, line, bar, { hand, onParts: (key) => { drawer.insert(key); } });
};

/**
 * @param {Server} server
 * @param {Answer} answer
 */
const opened = (server, answer) => {
  find("start").replaceChildren();
  find("page").hidden = false;
  const store = createStore(answer, answer.board, createModel, server);
  const say = faultView(store, find("fault"));
  sentenceView(store, find("sentence"));
  scenesView(store, find("scenes"));
  curveView(store, find("curve"));
  tryingView(store, find("trying"), server);
  stripView(store, find("strip"), find("words"));
  lineByHand(store, server, say);
  panels(store, find("panels"), server);
  titled(store);
  const { news } = dialogsView(store, find("dialog"), server, noticeView(store, find("message")));
  followServer(store, server, news);
  fitCurve(find("top"), find("line"), () => !store.view().dragging);
};

const begin = async () => {
  wholeNumbers(document);
  const server = createServer();
  const found = await server.document();
  if ("board" in found) {
    opened(server, found);
    return;
  }
  /* Another window may have made a board meanwhile. */
  const stop = server.events(({ revision }) => {
    if (revision) window.location.reload();
  });
  const done = (/** @type {Answer} */ answer) => {
    stop();
    opened(server, answer);
  };
  if ("broken" in found) mendView(find("start"), server, found.broken, done);
  else startView(find("start"), server, done);
};

begin().catch(() => {
  find("start").replaceChildren();
  find("message").textContent = "The program behind this page does not answer. Start it again: sigsim edit.";
});
