/* The store follows the server: what another window did, and whether the server is there. */

/** @import { News } from "./carrier.js" */
/** @import { Server } from "./asked.js" */
/** @import { Store } from "./store.js" */

/**
 * @param {Store} store
 * @param {Server} server
 * @param {(news: News) => void} more hears of what is not the document: disk, draft
 */
export const followServer = (store, server, more) => {
  let behind = false;
  let asking = false;
  const rests = () => !store.view().dragging && !store.view().busy;
  const catchUp = async () => {
    if (!behind || asking || !rests()) return;
    behind = false;
    asking = true;
    try {
      const answer = await server.document();
      if (!("board" in answer) || rests()) take(answer);
      else behind = true;
    } catch (error) {
      if (!(/** @type {{fault?: unknown}} */ (error).fault)) store.change({ offline: true });
    }
    asking = false;
    catchUp();
  };
  /** @param {Awaited<ReturnType<Server["document"]>>} answer */
  const take = (answer) => {
    /* What is no board any more has a page of its own. */
    if (!("board" in answer)) window.location.reload();
    else if (answer.revision !== store.view().answer?.revision) store.take(answer);
  };
  /* While something is dragged the board stays as it is; whoever answers is there. */
  store.subscribe((view, before) => {
    if (behind) catchUp();
    if (view.offline && view.answer !== before.answer) store.change({ offline: false });
  });
  server.events((news) => {
    const { gone, revision } = /** @type {News} */ (news);
    if (gone !== undefined && gone !== store.view().offline) store.change({ offline: gone });
    if (revision !== undefined && revision > (store.view().answer?.revision ?? 0)) {
      behind = true;
      catchUp();
    }
    more(news);
  });
};
