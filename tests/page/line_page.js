/* A page with the line and the strip alone, above them as much room as the page takes there. */
import { createModel } from "/js/model.js";
import { createStore } from "/js/store.js";
import { lineView } from "/js/line.js";
import { stripView } from "/js/strip.js";

const query = new URLSearchParams(location.search);
const board = (await (await fetch("/boards.json")).json())[query.get("board")];
const told = [];
const tell = (what) => (key) => told.push([what, key]);
const store = createStore({ revision: 1, saved: board }, board, createModel, null);
const holder = document.getElementById("line");
stripView(store, document.getElementById("strip"), document.getElementById("words"));
/* What the bar of a phone leaves, as the page says it. */
const room = () => window.innerHeight - (window.innerWidth < 600 ? 49 : 0) - holder.getBoundingClientRect().top - window.scrollY;
const line = lineView(store, holder, {
  room, editable: !query.has("report"), onOpen: tell("open"), onGap: tell("gap"), onEnd: tell("end"), onBoard: tell("board"),
});

/** The same board with other lengths or another order, as an answer would bring it. */
const shown = (chain, dragging) => {
  const data = { ...board, chain }, view = store.view();
  store.change({ dragging, shown: { ...view.shown, data, model: createModel(data) } });
};
const items = (list) => list.flatMap((item) => [item, ...items(item.inside ?? [])]);
const size = (rect) => `${rect.width.toFixed(1)} x ${rect.height.toFixed(1)}`;
const say = (thing) => `${thing.className} "${thing.getAttribute("aria-label") ?? thing.textContent}"`;

/* What a test asks. */
const inks = () => {
  const known = new Map(items(store.view().shown.data.chain).map((item) => [item.key, item]));
  return [...holder.querySelectorAll("g[data-of]")].flatMap((group) => {
    const item = known.get(group.dataset.of);
    return item?.length === undefined ? [] : [[item.key, group.querySelector(".wire").getTotalLength(), item.length * line.scale()]];
  });
};
const things = () => [...line.element.children].filter((thing) => (
  thing instanceof HTMLElement && !thing.hidden && !thing.matches(".ring")));
const faults = () => {
  const wide = document.documentElement.clientWidth, found = [];
  if (document.documentElement.scrollWidth > wide) found.push(`the page is ${document.documentElement.scrollWidth} px wide`);
  const all = things().flatMap((thing) => [thing, ...thing.querySelectorAll(".reach")].map((part) => [thing, part.getBoundingClientRect()]));
  all.forEach(([thing, a], i) => {
    if (a.left < -0.5 || a.right > wide + 0.5) found.push(`${say(thing)} leaves the window`);
    if (!thing.matches(".length, span") && Math.min(a.width, a.height) < 23.9) found.push(`${say(thing)} is ${size(a)}`);
    if (parseFloat(getComputedStyle(thing).fontSize) < 12) found.push(`${say(thing)} has small letters`);
    all.slice(i + 1).forEach(([other, b]) => {
      const over = Math.min(a.right, b.right) - Math.max(a.left, b.left), high = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
      /* The finger's ground of a fold is 3 px wider than its ink; a line of words is higher than its letters. */
      const allowed = [thing, other].some((one) => one.matches(".cable")) ? 3.6 : 0.6;
      if (thing !== other && over > allowed && high > 2.6) found.push(`${say(thing)} over ${say(other)}`);
    });
  });
  return found;
};
/** Hairlines that run over a frame in which neither they nor what they lead to stands. */
const crossings = () => {
  const rects = [...holder.querySelectorAll("svg rect")].map((rect) => rect.getBBox());
  return [...holder.querySelectorAll("g[data-of]")].flatMap((group) => {
    const hair = group.querySelector(".hair"), at = group.transform.baseVal.consolidate()?.matrix ?? { e: 0, f: 0 };
    const long = hair.getTotalLength(), points = [];
    for (let s = 0; s < long; s += 2) points.push(hair.getPointAtLength(s));
    /* It may enter what it leads to, at its edge, and may lie wholly inside what it stands in. */
    return rects.filter((rect) => {
      const inside = points.filter(({ x, y }) => x + at.e > rect.x + 2 && x + at.e < rect.x + rect.width - 2
        && y + at.f > rect.y + 2 && y + at.f < rect.y + rect.height - 2);
      return inside.length > 0 && inside.length < points.length;
    }).map(() => group.dataset.of);
  });
};
const bars = () => [...document.querySelectorAll(".strip rect:not(.tick)")].map((bar) => (
  [bar.getAttribute("class"), Number(bar.getAttribute("width")), Number(bar.getAttribute("height"))]));
/** All sorts of offers in the first gaps; what stands there then. */
const offered = (sorts) => {
  const keys = line.order().filter((key) => line.gapOf(key)).slice(0, sorts.length);
  store.hold({ part: "buffer", name: "a buffer", gaps: sorts.map((one, i) => ({ key: keys[i], ...one })) });
  return keys.map(line.gapOf).map((gap) => [gap.textContent, gap.className, gap.getAttribute("aria-label")]);
};
const focused = () => document.activeElement?.getAttribute("data-key") ?? null;

Object.assign(window, { store, line, told, shown, items, inks, faults, crossings, bars, offered, focused, ready: true });
