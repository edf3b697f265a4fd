/* A page with the drawer, the panels and the questions, before a server that answers from memory. */
import { createModel } from "/js/model.js";
import { createStore } from "/js/store.js";
import { drawerView } from "/js/drawer.js";
import { panels } from "/js/panels.js";
import { dialogsView } from "/js/dialogs.js";
import { walk } from "/js/chain.js";
import { find } from "/js/dom.js";
import { lineView } from "/js/line.js";
import { curveView } from "/js/curve.js";
import { sentenceView } from "/js/sentence.js";
import { scenesView } from "/js/scenes.js";
import { tryingView } from "/js/trying.js";
import { fitCurve, roomForLine } from "/js/fit.js";

const query = new URLSearchParams(location.search);
const board = await (await fetch("/board.json")).json();
const parts = await (await fetch("/parts.json")).json();
const sent = [];
let revision = 1, data = board, text = "title = \"a board\"\n\n[[chain]]\ncable = \"lead\"\nlength = \"5 m\"\n".repeat(9), gone = false;
const beside = { disk: query.get("disk") ?? "same", draft: "", offer: query.has("offer") ? { when: "2026-01-02 20:15" } : null };
const variants = [{ name: "stage", words: "cable to the amp 9 m → 15 m" }, { name: "active bass", words: "another instrument" }];
const worth = ["engine room with a buffered bypass", "a buffer after bilge fuzz", "low-capacitance cable to amp"];
let variant = "";
const copied = (value) => JSON.parse(JSON.stringify(value));
const answer = (words = "") => ({
  revision, title: data.title, file: "board.toml", unsaved: revision > 1, undo: words || null, redo: null, words, board: data,
  saved: board, variant, variants, cautions: [], ...beside,
});
const refuse = (what, line) => {
  const fault = { text: what, what, line };
  throw Object.assign(new Error(what), { fault, faults: line ? [fault, { ...fault, text: `${what} again`, line: line + 1 }] : [fault] });
};
const found = (at) => walk(data.chain).find((item) => JSON.stringify(item.at) === JSON.stringify(at));
const deeds = {
  length: (edit) => {
    if (!/^\d+(\.\d+)? (m|cm|ft|in)$/.test(edit.length)) refuse(`length: ${edit.length} is no length; accepted: 4.5 m, 15 ft`);
    Object.assign(found(edit.at), { lengthText: edit.length, length: Number.parseFloat(edit.length) });
  },
  rename: (edit) => {
    if (!edit.name) refuse("a name is wanted");
    const item = found(edit.at);
    data.switches[item.s] = edit.name;
    Object.assign(item, { name: edit.name, key: `box:${edit.name}` });
  },
  "take-out": (edit) => {
    data.chain = data.chain.filter((item) => JSON.stringify(item.at) !== JSON.stringify(edit.at));
  },
  set: (edit) => {
    if (edit.keys.tone && !(Number(edit.keys.tone) >= 0 && Number(edit.keys.tone) <= 10)) refuse("tone: a number from 0 to 10 is wanted");
    if (edit.keys.bypass) found(edit.at).bypass = edit.keys.bypass;
    if (edit.keys.tone) knobs.tone = edit.keys.tone;
  },
  part: (edit) => { found(edit.at).part = edit.part; },
  insert: (edit) => { data.chain.splice(2, 0, { ...copied(data.chain.find((item) => item.kind === "box")), key: "box:new one", name: "new one", part: edit.part, at: { place: ["new"] } }); },
  scene: (edit) => { data.states.splice(1, 0, { ...data.states[0], name: edit.name, title: edit.name, kind: "scene" }); },
  "scene-out": (edit) => { data.states = data.states.filter((state) => state.name !== edit.name); },
  variant: (edit) => { variant = edit.name; },
  text: (edit) => {
    if (edit.text.includes("nonsense")) refuse("line 3: a value is missing after =", 3);
    text = edit.text;
  },
};
const knobs = { volume: "10", tone: "10" };
const field = (key, kind, value, more = {}) => ({ key, words: key, kind, value, ...more });
const details = {
  instrument: () => ({
    part: "bass-split-coil", offers: [],
    fields: [field("volume", "knob", knobs.volume), field("tone", "knob", knobs.tone)],
    figures: [{ key: "inductance", words: "inductance of the pickup", value: "6.2 H", source: "measured on five of its kind", tolerance: "±10 %" }],
  }),
  box: () => ({
    offers: ["loop-around"], fields: [
      field("bypass", "choice", null, { standard: "true", choices: [{ value: "true", words: "true bypass" }, { value: "buffered", words: "its buffer stays in" }] }),
      field("role", "choice", null, { standard: "None", choices: [{ value: "fuzz", words: "fuzz" }] }), field("needs_pickup", "switch", null, { standard: "yes" }),
    ],
    figures: [{ key: "input", words: "input", value: "1 MΩ", source: "its papers" }, { key: "switch", words: "capacitance of its switch", value: "20 pF", source: "a handbook" }],
  }),
};
const away = () => Promise.reject(new Error("gone"));
const server = {
  edit: async (edit) => {
    if (gone) return away();
    sent.push(edit);
    const before = data;
    data = copied(data);
    try { deeds[edit.do]?.(edit); } catch (error) { data = before; throw error; }
    revision += 1;
    return answer(edit.do);
  },
  attempt: async (edit) => {
    sent.push({ ...edit, tried: true });
    return answer();
  },
  step: async () => answer(),
  document: async () => answer(),
  worth: async () => ({ list: worth.map((words, i) => ({ words, edit: { do: "insert" }, now: 8.8, then: 1 + i, worst: 2 + i, withLead: false })) }),
  gaps: async () => ({ gaps: [] }),
  parts: async () => parts,
  details: async (at) => (JSON.stringify(at) === JSON.stringify(data.instrumentAt) ? details.instrument() : details.box()),
  text: async () => ({ text, changed: revision > 1 ? [2, 3] : [], saved: text }),
  kept: () => text,
  listen: async () => { throw Object.assign(new Error(), { fault: { text: "no sound here", what: "no sound here" } }); },
  upload: async () => undefined,
  conflict: async (choice) => { sent.push(choice); return answer(); },
  draft: async (choice) => { sent.push(choice); return answer(); },
  difference: async () => [{ sign: " ", text: "one" }, { sign: "-", text: "theirs" }, { sign: "+", text: "<b>mine</b>" }],
  create: async (answers) => { sent.push(answers); if (answers.lead === "far") refuse("far is no length"); return answer(); },
  panel: async (name) => ({
    id: name, title: name, blocks: [{ kind: "heading", text: "A heading" }, { kind: "text", lines: ["Words."] }, {
      kind: "table", caption: "Scenes", columns: ["Scene", "Treble loss", "A longer heading", "Corner", "Word", "Source"], numbers: [1, 3],
      rows: [["all off", "8.8 dB", "words that are rather long", "1.2 kHz", "heavy", "a source of some length"], ["", "0.1 dB", "more", "9 kHz", "clear", "another"]], groups: [], bars: [],
    }],
  }),
  sheetURL: () => "/sheet", included: async () => "/", leave: () => undefined, events: () => undefined,
};
if (query.has("start")) {
  const { startView } = await import("/js/start.js");
  await startView(find("start"), server, () => sent.push("done"));
  window.page = { sent };
} else if (query.has("mend")) {
  const { mendView } = await import("/js/mend.js");
  mendView(find("start"), server, { text: "nonsense =\nmore\n", faults: [{ text: "a value is missing", what: "", line: 1 }], file: "board.toml", revision: 1 }, () => sent.push("done"));
  window.page = { sent };
} else {
  find("page").hidden = false;
  const store = createStore(answer(), data, createModel, server);
  const line = lineView(store, find("line"), {
    editable: true, room: () => roomForLine(find("line")), onOpen: (key) => drawer.open(key), onGap: (key) => drawer.insert(key),
  });
  sentenceView(store, find("sentence"));
  scenesView(store, find("scenes"), {});
  curveView(store, find("curve"));
  tryingView(store, find("trying"), server);
  fitCurve(find("top"), find("line"), () => !store.view().dragging);
  const drawer = drawerView(store, find("drawer"), server, line);
  panels(store, find("panels"), server);
  const dialogs = dialogsView(store, find("dialog"), server);
  window.page = { store, drawer, line, dialogs, sent, leaveServer: () => { gone = true; }, back: () => { gone = false; } };
}
window.ready = true;
