/* The editor: what the server has is put into the store, and each thing on the screen beside it. */

/** @import { Answer } from "./types.js" */
import { createServer } from "./carrier.js";
import { curveView } from "./curve.js";
import { find } from "./dom.js";
import { fitCurve } from "./fit.js";
import { createModel } from "./model.js";
import { scenesView } from "./scenes.js";
import { sentenceView } from "./sentence.js";
import { createStore } from "./store.js";
import { tryingView } from "./trying.js";

/** @param {Answer} answer */
const opened = (answer) => {
  const server = createServer();
  const store = createStore(answer, answer.board, createModel, server);
  sentenceView(store, find("sentence"));
  scenesView(store, find("scenes"));
  curveView(store, find("curve"));
  tryingView(store, find("trying"), server);
  fitCurve(find("top"), find("line"), () => !store.view().dragging);
};

createServer().document().then(opened);
