"use strict";
/* The page: boxes, scenes, numbers, charts. All text from a board goes in as text, never as markup. */
@OPEN@  const model = sigsimModel(data);
  const find = (id) => document.getElementById(id);
  const make = (tag, attributes, ...children) => {
    const element = document.createElement(tag);
    Object.entries(attributes || {}).forEach(([name, value]) => {
      if (value !== undefined && value !== false) element.setAttribute(name, value === true ? "" : value);
    });
    element.append(...children.flat().filter((child) => child !== undefined && child !== ""));
    return element;
  };

  /* ---- the state that is shown ---- */
  const named = data.states;
  const sets = named.map((state) => new Set(state.on));
  let on = new Set(sets[0]);
  let chosen = 0;
  const cache = new Map();
  const heard = (set) => {
    const found = [];
    const walk = (items) => items.forEach((item) => {
      if (item.kind === "split") walk(item.inside);
      if (item.s === undefined || !set.has(item.s)) return;
      found.push(item.s);
      if (item.inside) walk(item.inside);
    });
    walk(data.chain);
    return found.join(",");
  };
  const numbersOf = (set) => {
    const key = heard(set);
    if (!cache.has(key)) {
      if (cache.size > 64) cache.delete(cache.keys().next().value);
      cache.set(key, model.state(set));
    }
    return cache.get(key);
  };
  const current = () => (data.live ? numbersOf(on) : model.stored(named[chosen]));
  const worst = data.live ? numbersOf(sets[named.length - 1]) : model.stored(named[named.length - 1]);

  /* ---- the chain ---- */
  const boxes = [];
  const toggle = (number) => {
    if (on.has(number)) on.delete(number); else on.add(number);
    update();
  };
  const number = (item) => (data.live && item.s < 9 ? `${item.s + 1} ` : "");
  const box = (item) => {
    const mark = make("small", {});
    const button = make("button", { type: "button", class: "box", "data-switch": item.s, disabled: !data.live },
      number(item) + item.name, mark);
    button.addEventListener("click", () => toggle(item.s));
    boxes.push({ item, button, mark });
    return button;
  };
  const link = (item) => {
    if (item.kind === "cable") return make("li", { class: "cable" }, item.name);
    if (item.kind === "tap") return make("li", { class: "tap" }, item.name);
    if (item.kind === "split") {
      return make("li", { class: "split" }, make("span", { class: "fixed" }, item.turned ? item.name : `split: ${item.name}`),
        make("ol", { class: "inside", "aria-label": item.turned ? item.name : `split ${item.name}` }, item.inside.map(link),
          make("li", {}, make("span", { class: "end" }, item.end))));
    }
    if (item.inside) {
      const holder = make("li", { class: "loop" }, box(item),
        make("ol", { class: "inside", "aria-label": `inside loop ${item.name}` }, item.inside.map(link)));
      boxes[boxes.findIndex((b) => b.item === item)].holder = holder;
      return holder;
    }
    if (item.s === undefined) return make("li", {}, make("span", { class: "fixed" }, item.name, make("small", {}, "no switch")));
    return make("li", {}, box(item));
  };
  find("chain").append(
    make("li", {}, make("span", { class: "end" }, data.instrument)),
    ...data.chain.map(link),
    make("li", {}, make("span", { class: "end" }, data.destination)));
  find("chain").addEventListener("keydown", (event) => {
    if (!data.live || event.ctrlKey || event.altKey || event.metaKey || !/^[1-9]$/.test(event.key)) return;
    const target = boxes.find((b) => b.item.s === Number(event.key) - 1);
    if (target) { target.button.focus(); toggle(target.item.s); event.preventDefault(); }
  });

  /* ---- scenes ---- */
  const scenes = named.map((state, index) => {
    const button = make("button", { type: "button", title: state.title }, state.name);
    button.addEventListener("click", () => { on = new Set(sets[index]); chosen = index; update(); });
    return button;
  });
  find("scenes").append(...scenes);

  /* ---- numbers ---- */
  const sentence = (found) => {
    const names = boxes.filter((b) => on.has(b.item.s) && reached(b)).map((b) => b.item.name);
    const what = data.live
      ? `With ${names.length ? `${names.slice(0, 6).join(", ")}${names.length > 6 ? ` and ${names.length - 6} more` : ""} on` : data.allOff}`
      : named[chosen].name;
    if (!Number.isFinite(found.treble)) return `${what}: nothing comes out: ${data.silence}`;
    const lost = model.decibel(found.treble), all = model.decibel(found.withLead);
    const said = lost.startsWith("-") ? `${lost.slice(1)} dB of treble gained` : `${lost} dB of treble lost`;
    const lead = data.reference === "ideal" && lost !== all ? `, ${all} with its lead` : "";
    const level = Math.abs(found.level) < data.levelSaid ? ""
      : `; all of it is ${model.decibel(Math.abs(found.level))} dB ${found.level > 0 ? "louder" : "softer"}`;
    return `${what}: ${said} (${found.word})${lead}${level}.`;
  };
  const reached = (b) => {
    for (let up = b.button.parentElement.closest("ol.inside"); up; up = up.parentElement.closest("ol.inside")) {
      const owner = boxes.find((other) => other.holder === up.parentElement);
      if (owner && !on.has(owner.item.s)) return false;
    }
    return true;
  };
  const unit = (text) => (text === "-" ? text : `${text} dB`);
  const cells = [
    ["level", "Louder, 100 Hz", (f) => unit(model.signed(f.level)), () => ""],
    ...data.lossAt.map((hz, i) => [`loss${hz}`, `Loss, ${hz / 1000} kHz`, (f) => unit(model.decibel(f.losses[i])), () => ""]),
    ["treble", "Treble loss", (f) => unit(model.decibel(f.treble)), () => ""],
    ["word", "In a word", (f) => f.word, () => ""],
    ["corner", "Corner, Hz", (f) => model.shortHertz(f.corner), (f) => `reference ${model.shortHertz(f.referenceCorner)}`],
    ["resonance", "Resonance", (f) => model.peak(f.resonance), (f) => `reference ${model.peak(f.referenceResonance)}`],
  ].map(([id, title, value, beside]) => {
    const first = make("span", { id }), second = make("span", { class: "quiet" });
    find("numbers").append(make("div", {}, make("dt", {}, title), make("dd", {}, first, second)));
    return (found) => { first.textContent = value(found); second.textContent = beside(found); };
  });

  /* ---- charts ---- */
  const dashes = ["solid", "longdash", "dash", "dashdot", "dot", "longdashdot"];
  const ticks = [20, 50, 100, 200, 500, 1000, 2000, 5000, 10000, 20000];
  const tickTexts = ticks.map((t) => (t >= 1000 ? `${t / 1000}k` : `${t}`));
  const literal = (text) => text.replace(/&/g, "&amp;").replace(/</g, "&lt;").replace(/>/g, "&gt;");
  const short = (text) => (text.length > 40 ? `${text.slice(0, 20)}…${text.slice(-19)}` : text);
  let printing = false, drawnKind = "";
  const colour = (name) => {
    const style = getComputedStyle(document.documentElement);
    return style.getPropertyValue(printing ? `--${name}-light` : `--${name}`).trim();
  };
  const finite = (values) => values.map((v) => (Number.isFinite(v) ? v : null));
  const difference = (one, two) => one.map((v, i) => v - two[i]);
  const trace = (name, values, axis, line, more) => ({
    type: "scatter", mode: "lines", x: model.drawn, y: finite(values), yaxis: axis, line,
    name: literal(short(name)), legendgroup: name, showlegend: axis === "y", connectgaps: false,
    hovertemplate: axis === "y" ? "gain %{y:.1f} dB" : "loss %{y:.1f} dB", ...more,
  });
  const pair = (name, gain, loss, line, more) => [
    trace(name, gain, "y", line, more), trace(name, loss, "y2", line, more)];
  const limits = (lists, least, size, floor) => {
    const all = lists.flat().filter(Number.isFinite);
    if (!all.length) return [-size, size];
    const top = Math.max(...all), low = Math.max(Math.min(...all), top - floor);
    return [Math.floor((Math.min(low, least) - 0.5) / size) * size, Math.ceil((Math.max(top, 0) + 0.5) / size) * size];
  };
  const spread = () => {
    const key = data.live ? heard(on) : chosen;
    return data.bands.find((band) => (data.live ? heard(new Set(band.on)) === key : band.state === key));
  };
  const draw = (found) => {
    const R = model.curve(found.R), N = model.curve(found.N), W = model.curve(worst.N);
    const traces = [];
    const band = spread();
    if (band) {
      traces.push(
        { ...trace("band", band.low, "y", { width: 0 }), x: band.frequency, showlegend: false, hoverinfo: "skip", hovertemplate: null },
        { ...trace("5 to 95 % of the tolerances", band.high, "y", { width: 0 }), x: band.frequency,
          fill: "tonexty", fillcolor: colour("band"), hoverinfo: "skip", hovertemplate: null });
    }
    data.overlays.forEach((other, i) => {
      const line = { color: colour(`c${1 + (i + 1) % 5}`), width: 1.8, dash: dashes[2 + i % 4] };
      traces.push(...pair(other.name, other.gain, other.loss, line));
    });
    traces.push(trace("reference", R, "y", { color: colour("reference"), width: 2, dash: "dot" }));
    if (find("show-worst").checked) {
      const line = { color: colour("c1"), width: 1.8, dash: "longdash" };
      traces.push(...pair("worst of all combinations", W, difference(model.curve(worst.R), W), line));
    }
    traces.push(...pair("this combination", N, difference(R, N), { color: colour("c0"), width: 3, dash: "solid" }));
    const gains = traces.filter((t) => t.yaxis === "y" && t.name !== "band").map((t) => t.y);
    const losses = traces.filter((t) => t.yaxis === "y2").map((t) => t.y);
    const axis = { gridcolor: colour("grid"), zeroline: false, linecolor: colour("reference"), fixedrange: true, ticks: "outside", ticklen: 3, automargin: true };
    const range = limits(gains, Infinity, 6, 54);
    const ruler = data.rulers[find("ruler").value] || [];
    const [low, high] = data.trebleBand;
    const treble = [[0, 0.33], [0.4, 1]].map(([y0, y1]) => (
      { type: "rect", xref: "x", yref: "paper", x0: low, x1: high, y0, y1, line: { width: 0 }, fillcolor: colour("treble"), layer: "below" }));
    const layout = {
      autosize: true, margin: { l: 56, r: 14, t: 8, b: 44 }, paper_bgcolor: "rgba(0,0,0,0)", plot_bgcolor: "rgba(0,0,0,0)",
      font: { family: "system-ui, Liberation Sans, sans-serif", size: 12.5, color: colour("ink") },
      hovermode: "x unified", hoversubplots: "axis", hoverlabel: { bgcolor: colour("paper"), font: { color: colour("ink") } },
      legend: { orientation: "h", x: 0, xanchor: "left", y: 1.02, yanchor: "bottom", traceorder: "reversed" }, dragmode: false,
      xaxis: { ...axis, type: "log", range: data.drawn.slice(0, 2).map(Math.log10), tickvals: ticks, ticktext: tickTexts,
        title: { text: "frequency (Hz)" }, anchor: "y2", hoverformat: ".0f", unifiedhovertitle: { text: "%{x:.0f} Hz" } },
      yaxis: { ...axis, domain: [0.4, 1], title: { text: "gain (dB)" }, range },
      yaxis2: { ...axis, domain: [0, 0.33], title: { text: "loss (dB)" }, range: limits(losses, 0, 3, 54).reverse(), zeroline: true, zerolinecolor: colour("reference"), zerolinewidth: 1.5 },
      shapes: treble.concat(ruler.map(([, hz]) => ({ type: "line", xref: "x", yref: "paper", x0: hz, x1: hz, y0: 0.4, y1: 1, line: { color: colour("c4"), width: 1, dash: "dot" } }))),
      annotations: ruler.map(([note, hz]) => ({ xref: "x", yref: "paper", x: Math.log10(hz), y: 0.4, yanchor: "bottom", text: note, showarrow: false, font: { size: 11.5, color: colour("ink") }, bgcolor: colour("paper") })),
    };
    if (printing) { layout.autosize = false; layout.width = 690; layout.height = 330; }
    const kind = JSON.stringify([traces.map((t) => [t.name, t.line]), ruler, printing, band && band.state]);
    if (kind === drawnKind) { // only the curves have moved: much faster than drawing all anew
      Plotly.update("chart", { y: traces.map((t) => t.y) },
        { "yaxis.range": layout.yaxis.range, "yaxis2.range": layout.yaxis2.range });
    } else Plotly.react("chart", traces, layout, { displayModeBar: false, responsive: !printing, doubleClick: false });
    drawnKind = kind;
    find("chart").setAttribute("aria-label", `Gain and loss over frequency. ${find("state").textContent} `
      + "The slider below reads the curves at any frequency.");
  };

  /* ---- reading the curves ---- */
  const reading = (found) => {
    const hz = 20 * Math.pow(2, Number(find("at").value) / 12);
    const gain = model.at(found.N, hz), wanted = model.at(found.R, hz);
    const text = `${model.shortHertz(hz).replace(/k$/, " k").replace(/(\d)$/, "$1 ")}Hz: gain ${unit(model.decibel(gain))}, `
      + `reference ${unit(model.decibel(wanted))}, loss ${unit(model.decibel(wanted - gain))}`;
    find("reading").textContent = text;
    find("at").setAttribute("aria-valuetext", text);
  };

  const update = () => {
    const found = current();
    boxes.forEach(({ item, button, mark, holder }) => {
      const isOn = on.has(item.s);
      button.setAttribute("aria-pressed", String(isOn));
      if (holder) holder.classList.toggle("out", !isOn);
    });
    boxes.forEach((b) => {
      const isOn = on.has(b.item.s), words = b.item.inside ? ["loop out", "loop in"] : ["off", "on"];
      b.mark.textContent = words[Number(isOn)] + (isOn && !reached(b) ? ", not heard: the loop is out" : "");
    });
    const key = heard(on);
    scenes.forEach((button, i) => button.setAttribute("aria-pressed",
      String(data.live ? heard(sets[i]) === key : i === chosen)));
    cells.forEach((fill) => fill(found));
    find("state").textContent = @SAID@sentence(found);
    reading(found);
    draw(found);
  };

  /* ---- everything below: sections made by the program ---- */
  const regions = {};
  const table = (made) => {
    const same = regions[made.caption] = (regions[made.caption] ?? 0) + 1;
    const label = same > 1 ? `${made.caption} (${same})` : made.caption;
    const head = make("tr", {}, made.columns.map((c, i) => make("th", { scope: "col", class: made.numbers.includes(i) ? "n" : undefined }, c)));
    const rows = made.rows.map((cellsOf, r) => (made.groups.includes(r)
      ? make("tr", {}, make("th", { scope: "rowgroup", class: "group", colspan: made.columns.length }, cellsOf[0]))
      : make("tr", {}, cellsOf.map((text, i) => make(i === 0 ? "th" : "td",
        { scope: i === 0 ? "row" : undefined, class: made.numbers.includes(i) ? "n" : undefined }, text)),
      made.bars.length ? make("td", {}, bar(made.bars[r])) : undefined)));
    if (made.bars.length) head.append(make("td", {}));
    return make("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": label },
      make("table", { class: made.columns.length > 5 ? "wide" : undefined }, make("caption", {}, made.caption), make("thead", {}, head), make("tbody", {}, rows)));
  };
  const bar = (share) => {
    const inner = make("i", {});
    inner.style.width = `${Math.max(0, Math.min(1, share)) * 100}%`;
    return make("span", { class: "bar", "aria-hidden": "true" }, inner);
  };
  const shown = {
    heading: (block) => make("h3", {}, block.text),
    text: (block) => block.lines.map((line) => make("p", { class: block.quiet ? "quiet" : undefined }, line)),
    list: (block) => make("ul", {}, block.lines.map((line) => make("li", {}, line))),
    table,
  };
  data.sections.forEach((section) => {
    find("contents").append(make("li", {}, make("a", { href: `#${section.id}` }, section.title)));
    find("sections").append(make("section", { "aria-labelledby": section.id }, make("h2", { id: section.id }, section.title),
      section.blocks.map((block) => shown[block.kind](block)).flat()));
  });

  find("ruler").addEventListener("change", update);
  find("show-worst").addEventListener("change", update);
  find("at").addEventListener("input", () => reading(current()));
  window.matchMedia("(prefers-color-scheme: dark)").addEventListener("change", update);
  window.addEventListener("beforeprint", () => { printing = true; update(); });
  window.addEventListener("afterprint", () => { printing = false; update(); });
@CLOSE@