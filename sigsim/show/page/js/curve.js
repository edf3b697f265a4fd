/* The curve: what hangs from the zero line, the same state with no cable at all. Elements are made
   once; a change only gives their paths another text. */

/** @import { Store, View } from "./store.js" */
/** @import { Extra } from "./extras.js" */
/** @import { Trace } from "./traces.js" */
import { draw, make, set, write } from "./dom.js";
import { axes, hertzText, kilohertz, onScale } from "./axes.js";
import { broughtTraces } from "./extras.js";
import { fittedWords, wordWidth } from "./letters.js";
import { areaOf, drawnValues, pathOf, pushedApart, traces } from "./traces.js";
import { decibel } from "./words.js";

const sliderSteps = 240; // steps over the width of the plot
const endsApart = 15; // [px] between words at the right ends
const describedAfter = 300; // [ms] after which the picture is described
const zeroSaid = 0.5; // [dB] from which another zero line is spoken of

/** @param {number} db */
const belowZero = (db) => (
  !Number.isFinite(db) ? "silent" : decibel(Math.abs(db)) === "0.0" ? "0.0" : `${db < 0 ? "−" : "+"}${decibel(Math.abs(db))}`);

/**
 * @param {Store} store
 * @param {HTMLElement} holder
 * @param {{extra?: (view: View) => Extra[]}} options curves that somebody else brings
 */
export const curveView = (store, holder, options = {}) => {
  const svg = draw("svg", { role: "img" });
  const clip = draw("rect", {});
  const back = draw("g", {});
  const plot = draw("g", { "clip-path": "url(#plot)" });
  const front = draw("g", {});
  svg.append(draw("defs", {}, draw("clipPath", { id: "plot" }, clip)), back, plot, front);
  const spread = draw("path", { class: "spread" });
  const tint = draw("path", { class: "tint" });
  const tick = draw("path", { class: "tick" });
  const dot = draw("circle", { class: "dot", r: 4.5 });
  const peak = draw("text", { class: "peak" });
  const rod = draw("path", { class: "rod" });
  const line = draw("text", { class: "said" });
  const marker = draw("g", {});
  plot.append(spread, tint, marker);
  front.append(tick, dot, peak, rod, line);
  const button = make("button", { type: "button", "aria-pressed": "false" });
  const input = make("input", { type: "range", min: 0, max: sliderSteps, step: 1, value: Math.round(sliderSteps * 0.65),
    "aria-label": "Read the curves at" });
  holder.append(svg, button, input);
  const family = getComputedStyle(holder).fontFamily;

  /** @type {ReturnType<typeof axes>} */
  let frame;
  let itself = false;
  let pointed = -1;
  /** @type {Trace[]} */
  let drawn = [];
  /** @type {Map<string, {path: SVGPathElement, end: SVGTextElement, tie: SVGPathElement, text: string}>} */
  const parts = new Map();
  /** @type {ReturnType<typeof setTimeout>|undefined} */
  let timer;
  let stacked = ""; // which curves lie over which
  let floorItself = 0, topItself = -Infinity, highest = 0;

  /** Lowest and highest of the scale: it grows, it never shrinks.
   * @returns {[number, number]} */
  const range = () => {
    let low = Infinity, high = -Infinity;
    drawn.forEach(({ values }) => {
      for (let i = 0; i < values.length; i += 1) {
        if (Number.isFinite(values[i])) {
          low = Math.min(low, values[i]);
          high = Math.max(high, values[i]);
        }
      }
    });
    if (!itself) {
      highest = Math.max(highest, Math.min(high, 30));
      return [store.floor(Math.max(low, -60)), Math.max(6, Math.ceil(highest / 6) * 6)];
    }
    topItself = Math.max(topItself, Number.isFinite(high) ? Math.ceil((high + 0.5) / 6) * 6 : 6);
    floorItself = Math.min(floorItself, Math.max(Number.isFinite(low) ? low : 0, topItself - 66));
    return [Math.min(topItself - 18, Math.floor(floorItself / 6) * 6), topItself];
  };

  /** @param {string} key @param {string} kind */
  const part = (key, kind) => {
    const old = parts.get(key);
    if (old) return old;
    const made = { path: draw("path", { class: kind }), end: draw("text", { class: `end ${kind}` }),
      tie: draw("path", { class: "tie" }), text: "" };
    plot.insertBefore(made.path, marker);
    front.append(made.tie, made.end);
    parts.set(key, made);
    return made;
  };

  /** Names that are longer than their room end in an ellipsis.
   * @param {{end: SVGTextElement, text: string}} one @param {string} name */
  const lettered = (one, name) => {
    const key = `${frame.room} ${name}`;
    if (one.text === key) return;
    one.text = key;
    write(one.end, fittedWords(`600 12.5px ${family}`, name, frame.room));
  };

  const drawTraces = () => {
    const { xs, y } = frame;
    /** @type {Set<string>} */
    const used = new Set();
    drawn.forEach(({ kind, values }, i) => {
      const key = kind === "pin" ? `pin ${i}` : kind;
      used.add(key);
      const { path } = part(key, kind);
      set(path, { d: kind === "none" && !itself ? "" : pathOf(values, xs, y) });
    });
    parts.forEach(({ path, end, tie }, key) => {
      if (used.has(key)) return;
      [path, end, tie].forEach((element) => element.remove());
      parts.delete(key);
    });
    const text = [...used].join("|");
    if (text !== stacked) [...used].forEach((key) => plot.insertBefore(part(key, "").path, marker));
    stacked = text;
    const lead = drawn.find((one) => one.kind === "lead") ?? drawn[0];
    const now = drawn[drawn.length - 1];
    tint.setAttribute("d", areaOf(lead.values, now.values, xs, y));
  };

  const drawEnds = () => {
    const { top, bottom, right, y } = frame;
    const most = Math.max(1, Math.floor((bottom - top) / endsApart) + 1);
    const pins = drawn.filter((one) => one.kind === "pin").length;
    let spare = most - (drawn.length - pins);
    const kept = drawn.map((one, i) => ({ one, key: one.kind === "pin" ? `pin ${i}` : one.kind }))
      .filter(({ one }) => one.kind !== "pin" || (spare -= 1) >= 0);
    const ends = kept.map(({ one }) => {
      const last = one.kind === "none" && !itself ? 0 : one.values[one.values.length - 1];
      return Math.min(Math.max(Number.isFinite(last) ? y(last) : bottom, top), bottom);
    });
    const heights = pushedApart(ends, top, bottom, endsApart);
    kept.forEach(({ one, key }, i) => {
      const entry = part(key, one.kind);
      const heard = (one.kind === "none" && !itself) || Number.isFinite(one.values[one.values.length - 1]);
      lettered(entry, heard ? one.name : `${one.name}: silent`);
      set(entry.end, { x: right + 8, y: heights[i] + 4 });
      const far = heard && Math.abs(heights[i] - ends[i]) > 3;
      entry.tie.setAttribute("d", far ? `M${right + 1} ${ends[i]}L${right + 6} ${heights[i]}` : "");
    });
    parts.forEach(({ end, tie }, key) => {
      const shown = kept.some((one) => one.key === key);
      set(end, { visibility: shown ? null : "hidden" });
      set(tie, { visibility: shown ? null : "hidden" });
    });
  };

  /** @param {View} view */
  const drawPeak = ({ shown }) => {
    const { x, y, left } = frame;
    const alone = shown.found.referenceResonance?.frequency ?? null, now = shown.found.resonance?.frequency ?? null;
    const inside = (/** @type {number|null} */ hertz) => hertz !== null && hertz >= 100 && hertz <= 20000;
    const zero = y(0);
    tick.setAttribute("d", !itself && alone !== null && inside(alone) ? `M${x(alone)} ${zero - 7}v14` : "");
    const at = inside(now) ? x(/** @type {number} */ (now)) : null;
    set(dot, { cx: at ?? 0, cy: zero, visibility: !itself && at !== null ? null : "hidden" });
    write(peak, itself ? "" : kilohertz(alone, now));
    if (!peak.textContent) return;
    const where = at ?? (inside(alone) ? x(/** @type {number} */ (alone)) : left);
    const width = 6.6 * (peak.textContent ?? "").length;
    set(peak, { x: Math.max(where + 3, left + 4 + width), y: zero + 17, "text-anchor": "end" });
  };

  const wide = (/** @type {string} */ text) => wordWidth(`12px ${family}`, text);
  /** Room over the plot, as far as the button [px]. */
  const spare = () => frame.right + frame.room - frame.left - wide(button.textContent ?? "") - 20;

  /** The curves at a frequency, in words; over the plot as many of them as have room.
   * @param {number} hertz
   * @param {boolean} brief */
  const reading = (hertz, brief) => {
    const values = drawn.filter((one) => one.kind !== "none" || itself)
      .filter((one) => !brief || one.kind !== "pin").reverse()
      .map((one) => `${one.name} ${belowZero(one.at(hertz))}${brief ? "" : " dB"}`);
    const text = () => `${hertzText(hertz)}: ${values.join(brief ? " · " : ", ")}${brief ? " dB" : ""}`;
    while (brief && values.length > 1 && wide(text()) > spare()) values.pop();
    return text();
  };

  /** @param {number} share of the width */
  const hertzAt = (share) => 100 * 200 ** share;

  /** Where the dashed and the thin curves hang from a zero line that is not their own. */
  const strange = () => {
    const found = itself ? undefined : drawn.filter((one) => Math.abs(one.own) >= zeroSaid)
      .sort((a, b) => Math.abs(b.own) - Math.abs(a.own))[0];
    if (!found) return "";
    const most = `up to ${decibel(Math.abs(found.own))} dB`;
    const said = [`${found.name}: ${most} of the difference is not the cable’s doing`, `${found.name}: ${most} of it is not the cable’s`, `${most} not by the cable`];
    return said.find((text) => wide(text) <= spare()) ?? "";
  };

  const drawReading = () => {
    const active = pointed >= 0 || document.activeElement === input;
    const hertz = hertzAt(pointed >= 0 ? pointed : Number(input.value) / sliderSteps);
    const { x, top, bottom, left } = frame;
    rod.setAttribute("d", active ? `M${x(hertz).toFixed(1)} ${top}V${bottom}` : "");
    write(line, active ? reading(hertz, true) : strange());
    set(line, { x: left, y: top - 8 });
    back.classList.toggle("reading", line.textContent !== "");
  };
  const speakReading = () => set(input, { "aria-valuetext": reading(hertzAt(Number(input.value) / sliderSteps), false) });

  /** @param {View} view */
  const show = (view) => {
    const { model } = view.shown;
    const brought = broughtTraces(options.extra?.(view) ?? [], view, itself, (response) => drawnValues(model, response));
    drawn = traces(view, itself);
    drawn.splice(1, 0, ...brought.curves);
    const [low, high] = range();
    if (low !== frame.low || high !== frame.high || itself !== frame.itself) setUp(low, high);
    spread.setAttribute("d", brought.bands.map(({ low: one, high: other }) => areaOf(one, other, frame.xs, frame.y)).join(""));
    drawTraces();
    drawEnds();
    drawPeak(view);
    drawReading();
    clearTimeout(timer);
    timer = setTimeout(describe, describedAfter);
  };

  /** What a reader of the screen is told of the whole picture, once it rests. */
  const describe = () => {
    speakReading();
    const name = itself ? "The response itself over frequency" : "Treble lost over frequency, from the same board with no cable at all";
    set(svg, { "aria-label": `${name}. ${[500, 1000, 2000, 4000, 8000].map((hz) => reading(hz, false)).join(". ")}.` });
  };

  /** @param {number} low @param {number} high */
  const setUp = (low, high) => {
    const { data, model } = store.view().shown;
    frame = axes({ width: holder.clientWidth, height: holder.clientHeight, low, high, itself, drawn: model.drawn });
    const { left, right, top, bottom } = frame;
    set(clip, { x: left, y: top, width: right - left, height: bottom - top });
    onScale(back, frame, data.trebleBand);
    input.style.left = `${left - 12}px`;
    input.style.width = `${right - left + 24}px`;
    write(button, frame.small ? "response" : "the response itself");
    set(button, { "aria-pressed": String(itself), "aria-label": frame.small ? "response itself" : null });
    parts.forEach((one) => { one.text = ""; });
  };

  const resized = () => {
    setUp(frame?.low ?? -12, frame?.high ?? 6);
    show(store.view());
  };

  button.addEventListener("click", () => {
    itself = !itself;
    show(store.view());
  });
  ["input", "focus", "blur"].forEach((kind) => input.addEventListener(kind, () => {
    speakReading();
    drawReading();
  }));
  holder.addEventListener("pointermove", (event) => {
    const share = (event.clientX - svg.getBoundingClientRect().left - frame.left) / (frame.right - frame.left);
    pointed = event.pointerType === "mouse" && share >= 0 && share <= 1 ? share : -1;
    drawReading();
  });
  holder.addEventListener("pointerleave", () => {
    pointed = -1;
    drawReading();
  });
  resized();
  describe();
  new ResizeObserver(resized).observe(holder);
  window.addEventListener("resize", resized);
  store.subscribe((view, before) => {
    const same = view.shown === before.shown && view.saved === before.saved && view.ghost === before.ghost
      && view.pins === before.pins && view.held === before.held && view.answer === before.answer
      && view.dragging === before.dragging;
    if (!same) show(view);
  });
};
