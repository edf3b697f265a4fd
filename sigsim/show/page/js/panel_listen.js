/* Listen: the phrase, or a recording of the player's own, through the board as saved and as it is
   now, equally loud, starting quietly. */

import { disclosure } from "./disclosure.js";
import { make, set, write } from "./dom.js";
import { errorWords } from "./sending.js";

/** @import { Server } from "./asked.js" */
/** @import { Store } from "./store.js" */

/** @typedef {"now"|"saved"} Which */

const FIRST_LOUDNESS = 0.15;
const CAUTION = "Turn your amp or headphones down first, then up slowly: treble that was missing can be sharp.";

const listenParts = () => {
  const now = make("button", { type: "button", "aria-pressed": "false" }, "now");
  const saved = make("button", { type: "button", "aria-pressed": "false" }, "as saved");
  const stop = make("button", { type: "button", disabled: true }, "stop");
  const loudness = make("input", { type: "range", id: "listen-loudness", min: "0", max: "1", step: "0.05" });
  loudness.value = String(FIRST_LOUDNESS);
  const file = make("input", { type: "file", id: "listen-file", accept: "audio/wav,audio/x-wav,.wav" });
  const status = make("p", { class: "hint", role: "status" });
  const fault = make("p", { class: "fault", role: "alert" });
  return { now, saved, stop, loudness, file, status, fault };
};

/**
 * @param {Store} store
 * @param {Server} server
 */
export const listenPanel = (store, server) => disclosure("Listen", (body) => {
  const { now, saved, stop, loudness, file, status, fault } = listenParts();
  const audio = new Audio();
  /** @type {Which|null} */
  let playing = null;
  let round = 0;
  let from = "the phrase that comes with the program";
  const mark = () => {
    set(now, { "aria-pressed": String(playing === "now") });
    set(saved, { "aria-pressed": String(playing === "saved") });
    stop.disabled = playing === null;
    write(status, playing === null ? `You hear ${from}, both equally loud.` : `Playing ${playing === "now" ? "the board as it is now" : "the board as saved"}.`);
  };
  const end = () => {
    round += 1;
    audio.pause();
    playing = null;
    mark();
  };
  /** From where the other one is, so that the two can be compared.
   * @param {Which} which */
  const play = async (which) => {
    round += 1;
    const mine = round;
    const place = playing === null ? 0 : audio.currentTime;
    write(fault, "");
    write(status, "Computing …");
    try {
      const address = await server.listen(which, store.names());
      if (mine !== round) return;
      audio.src = address;
      audio.volume = Number(loudness.value);
      audio.currentTime = place;
      playing = which;
      mark();
      await audio.play();
    } catch (error) {
      if (mine !== round) return;
      end();
      write(fault, /** @type {{name?: string}} */ (error).name === "NotAllowedError" ? "The browser does not let this page play yet: press the button once more." : errorWords(error));
    }
  };
  now.addEventListener("click", () => play("now"));
  saved.addEventListener("click", () => play("saved"));
  stop.addEventListener("click", () => {
    end();
    now.focus();
  });
  audio.addEventListener("ended", end);
  loudness.addEventListener("input", () => {
    audio.volume = Number(loudness.value);
  });
  file.addEventListener("change", async () => {
    const picked = file.files?.[0];
    if (!picked) return;
    end();
    write(fault, "");
    try {
      await server.upload(picked);
      from = `your recording ${picked.name}`;
      mark();
    } catch (error) {
      write(fault, errorWords(error));
    }
  });
  body.append(make("p", { class: "caution" }, CAUTION),
    make("div", { class: "buttons" }, now, saved, stop),
    make("div", { class: "row" }, make("label", { for: "listen-loudness" }, "loudness"), loudness),
    make("div", { class: "row" }, make("label", { for: "listen-file" }, "a recording of yours"), file), status, fault);
  mark();
  /** @type {unknown} */
  let heard = null;
  return () => {
    const { steady, saved: kept } = store.view();
    saved.hidden = kept === null;
    /* Another board or other switches: what plays is no longer what is shown. */
    if (heard !== null && heard !== steady && playing !== null) play(playing);
    heard = steady;
  };
});
