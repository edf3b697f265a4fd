/* The report: the page of the editor without the editing, from the data that it holds. */

/** @import { Packing } from "./versions.js" */
import { extraCurves } from "./beside.js";
import { curveView } from "./curve.js";
import { find, write } from "./dom.js";
import { fitCurve, roomForLine, whileSettling } from "./fit.js";
import { lineView } from "./line.js";
import { createModel } from "./model.js";
import { numbersView } from "./numbers.js";
import { readyForPaper } from "./paper.js";
import { scenesView } from "./scenes.js";
import { sectionsView } from "./sections.js";
import { sentenceView } from "./sentence.js";
import { createStore } from "./store.js";
import { stripView } from "./strip.js";
import { versionOf, versionsView } from "./versions.js";

/** @type {Packing} */
const packing = JSON.parse(find("data").textContent);
let version = versionOf(packing, 0);
const store = createStore(null, version, createModel, null);
const showSections = sectionsView(find("sections"));

const showTexts = () => {
  document.title = version.title;
  write(find("title"), version.title);
  write(find("changes"), packing.versions.length > 1 ? version.changes : "");
  showSections(version.sections);
};

/* The scene that was chosen stays, by its name; the first button is all off, the last the worst. */
/** @param {number} index */
const choose = (index) => {
  const { steady, chosen } = store.view();
  const before = steady.data.states[chosen];
  version = versionOf(packing, index);
  store.show(version);
  if (!version.live) {
    const same = version.states.findIndex((state) => state.kind === before.kind && (state.kind !== "scene" || state.name === before.name));
    store.choose(Math.max(same, 0));
  }
  showTexts();
};

sentenceView(store, find("sentence"));
scenesView(store, find("scenes"));
curveView(store, find("curve"), { extra: (view) => extraCurves(view, version.others, version.bands) });
numbersView(store, find("numbers"));
stripView(store, find("strip"), find("words"));
const line = lineView(store, find("line"), {
  editable: false, room: () => roomForLine(find("line")),
});
whileSettling(["head", "scenes", "words", "strip"].map(find), line.refit);
fitCurve(find("top"), line.element, () => true);
versionsView(packing, find("variants"), choose);
showTexts();
readyForPaper(find("sections"));
