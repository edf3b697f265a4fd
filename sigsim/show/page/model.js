"use strict";
/* The model of the page: any state from the coefficients, and its numbers.

   A source is p = 1/E and q = Z/E; a step makes p' = a p + c q and q' = b p + d q, and the
   response is 1/H = (p + q Y)/factor. See sigsim/decide/coefficients.py. The searches for corner and
   resonance and the rounding are those of sigsim/metrics.py and sigsim/show/text.py. */
const sigsimModel = (data) => {
  const size = data.size, points = data.points;
  const step = Math.log(data.high / data.low) / (points - 1);
  const { search, halfPower, leastResonance, silent } = data.metrics;
  const zooms = 5, zoomPoints = 17;
  const nodes = 8;
  const binomial = [1, -7, 21, -35, 35, -21, 7, -1];

  const decoded = data.pool.map((text) => {
    const raw = atob(text), bytes = new Uint8Array(raw.length);
    for (let i = 0; i < raw.length; i += 1) bytes[i] = raw.charCodeAt(i);
    const both = new Float64Array(bytes.buffer), re = new Float64Array(size), im = new Float64Array(size);
    for (let i = 0; i < size; i += 1) { re[i] = both[2 * i]; im[i] = both[2 * i + 1]; }
    return { re, im };
  });
  const constant = (pair) => (
    { re: new Float64Array(size).fill(pair[0]), im: new Float64Array(size).fill(pair[1]) });
  const column = (value) => (typeof value === "number" ? decoded[value] : constant(value));
  const steps = (data.steps || []).map((four) => four.map(column));

  const times = (into, x, y) => {
    for (let i = 0; i < size; i += 1) {
      const r = x.re[i] * y.re[i] - x.im[i] * y.im[i];
      into.im[i] = x.re[i] * y.im[i] + x.im[i] * y.re[i];
      into.re[i] = r;
    }
  };
  const blank = () => ({ re: new Float64Array(size), im: new Float64Array(size) });
  const sum = (x, y) => {
    for (let i = 0; i < size; i += 1) { x.re[i] += y.re[i]; x.im[i] += y.im[i]; }
    return x;
  };
  const product = (x, y) => { const z = blank(); times(z, x, y); return z; };

  /* What the signal meets in a state: each item with whether it is on. */
  const meets = (items, on, found) => {
    items.forEach((item) => {
      const group = item.kind === "split" ? null : item.inside;
      if (group && on.has(item.s)) meets(group, on, found);
      else found.push([item, !group && (item.s === undefined || on.has(item.s))]);
    });
    return found;
  };
  /* The load that a split is on the way that it leaves, as the fraction up/low [S]: all that is met
     in it as far as its first isolator. */
  const branch = (split, on) => {
    const found = meets(split.inside, on, []);
    const input = ([item, isOn]) => (isOn ? item.yon : item.yoff);
    const isolator = found.findIndex((met) => met[0].kind !== "split" && input(met) !== undefined);
    const run = isolator < 0 ? found : found.slice(0, isolator);
    let up = column(isolator < 0 ? split.yon : input(found[isolator])), low = constant([1, 0]);
    run.reverse().forEach(([item, isOn]) => {
      if (item.kind === "split") {
        const own = branch(item, on);
        up = sum(product(own.up, low), product(own.low, up));
        low = product(own.low, low);
      } else {
        const [a, b, c, d] = steps[isOn ? item.on : item.off];
        [up, low] = [sum(product(c, low), product(d, up)), sum(product(a, low), product(b, up))];
      }
    });
    return { up, low };
  };
  /* The steps of all that is met in a state and kept: their numbers, and splits as fractions. */
  const path = (on, kept) => meets(data.chain, on, []).filter(([item, isOn]) => kept(item, isOn)).map(
    ([item, isOn]) => (item.kind === "split" ? branch(item, on) : isOn ? item.on : item.off));
  const reference = (on, bare) => (
    path(on, (item, isOn) => (isOn ? item.ion : item.ioff) && !(bare && item.lead)));
  const factor = column(data.factor);
  /* 1/H times a factor `by`, in which the dips of H are. */
  const through = (met) => {
    let p = column(data.start[0]), q = column(data.start[1]), by = factor;
    met.forEach((one) => {
      if (typeof one === "number") {
        const [a, b, c, d] = steps[one];
        [p, q] = [sum(product(a, p), product(c, q)), sum(product(b, p), product(d, q))];
      } else {
        [p, q] = [sum(product(one.low, p), product(one.up, q)), product(one.low, q)];
        by = product(one.low, by);
      }
    });
    return { ...sum(product(q, column(data.load)), p), by };
  };

  /* |1/H| to dB of H; what is not finite is silence. */
  const decibels = (re, im) => {
    const magnitude = Math.hypot(re, im);
    return Number.isFinite(magnitude) ? -20 * Math.log10(magnitude) : -Infinity;
  };
  const gains = (N) => Float64Array.from(
    N.re, (re, i) => decibels(re, N.im[i]) - decibels(N.by.re[i], N.by.im[i]));

  /* The gain at any frequency on the grid: 1/H by the polynomial through eight points. */
  const stencil = (f) => {
    const t = Math.log(f / data.low) / step;
    const first = Math.min(Math.max(Math.floor(t) - 3, 0), points - nodes);
    const near = Math.round(t);
    if (Math.abs(t - near) < 1e-9) return { first: near, weights: [1] };
    const raw = binomial.map((b, j) => b / (t - first - j));
    const total = raw.reduce((x, y) => x + y, 0);
    return { first, weights: raw.map((w) => w / total) };
  };
  const interpolated = (values, { first, weights }) => {
    let re = 0, im = 0;
    weights.forEach((w, j) => { re += w * values.re[first + j]; im += w * values.im[first + j]; });
    return decibels(re, im);
  };
  const read = (N, s) => interpolated(N, s) - interpolated(N.by, s);

  const searchStencils = search.map(stencil);
  const between = (low, high) => (
    Array.from({ length: zoomPoints }, (_, i) => low + (high - low) * i / (zoomPoints - 1)));
  const sounds = (level) => level > silent && level < Infinity;
  const over = (N, level, stencils) => (
    stencils.map((s) => (sounds(level) ? read(N, s) - level : -Infinity)));

  const corner = (N, level) => {
    let f = search, height = over(N, level, searchStencils);
    for (let zoom = 0; ; zoom += 1) {
      let i = -1;
      height.forEach((h, j) => { if (h + halfPower > 0) i = j; });
      if (i < 0 || i === f.length - 1) return null;
      if (zoom === zooms - 1) {
        const high = height[i] + halfPower, low = height[i + 1] + halfPower;
        return f[i] + (high / (high - low)) * (f[i + 1] - f[i]);
      }
      f = between(f[i], f[i + 1]);
      height = over(N, level, f.map(stencil));
    }
  };
  const highest = (height) => height.reduce((best, h, j) => (h > height[best] ? j : best), 0);
  const resonance = (N, level) => {
    let f = search, height = over(N, level, searchStencils), i = -1;
    for (let j = 1; j < f.length - 1; j += 1) {
      const peak = height[j] > height[j - 1] && height[j] >= height[j + 1] && height[j] > 0;
      if (peak && (i < 0 || height[j] > height[i])) i = j;
    }
    if (i < 0) return null;
    for (let zoom = 0; zoom < zooms; zoom += 1) {
      f = between(f[Math.max(i - 1, 0)], f[Math.min(i + 1, f.length - 1)]);
      height = over(N, level, f.map(stencil));
      i = highest(height);
    }
    return height[i] >= leastResonance ? { frequency: f[i], height: Math.min(height[i], -silent) } : null;
  };

  /* All numbers of one response with its reference. */
  const trebleOf = (loss) => (
    data.exact.treble.reduce((t, i) => t + loss[i], 0) / data.exact.treble.length - loss[data.exact.level]);
  const assess = (N, R, B) => {
    const gain = gains(N), wanted = gains(R), bare = gains(B);
    const level = gain[data.exact.level];
    const lost = (reference) => {
      const heard = sounds(level) && sounds(reference[data.exact.level]);
      return gain.map((g, i) => (heard ? reference[i] - g : NaN));
    };
    const loss = lost(wanted);
    const treble = trebleOf(loss), withLead = trebleOf(lost(bare));
    const word = !Number.isNaN(treble)
      ? data.words.find(([limit]) => limit === null || tenth(treble) < limit)[1] : "silent";
    return {
      N, R, level: -loss[data.exact.level], losses: data.exact.loss.map((i) => loss[i]),
      treble, withLead, word,
      corner: corner(N, level), resonance: resonance(N, level),
      referenceCorner: corner(R, wanted[data.exact.level]),
      referenceResonance: resonance(R, wanted[data.exact.level]),
    };
  };
  const state = (on) => {
    const N = through(path(on, () => true));
    const R = through(data.reference === "direct" ? data.direct : reference(on, data.reference === "bare"));
    return assess(N, R, through(reference(on, true)));
  };
  const stored = (scene) => assess(
    { ...decoded[scene.board], by: product(column(scene.splits), factor) },
    { ...decoded[scene.reference], by: factor }, { ...decoded[scene.bare], by: factor });

  const [left, right, many] = data.drawn;
  const drawn = Array.from({ length: many }, (_, i) => left * Math.pow(right / left, i / (many - 1)));
  const drawnStencils = drawn.map(stencil);
  const curve = (N) => drawnStencils.map((s) => read(N, s));
  const at = (N, f) => read(N, stencil(f));

  /* Numbers as the program prints them. */
  const tenth = (value) => {
    const quarters = value * 4;
    if (Number.isInteger(quarters) && quarters % 2 !== 0) { // a tie goes to the even digit
      const below = Math.floor(value * 10);
      return (below % 2 === 0 ? below : below + 1) / 10 + 0;
    }
    return Number(value.toFixed(1)) + 0;
  };
  const decibel = (value) => (Number.isFinite(value) ? tenth(value).toFixed(1) : "-");
  const signed = (value) => {
    if (!Number.isFinite(value)) return "-";
    const rounded = tenth(value);
    return (rounded < 0 ? "" : "+") + rounded.toFixed(1);
  };
  const shortHertz = (value) => {
    if (value === null) return "none";
    return value >= 999.5 ? `${Number((value / 1000).toPrecision(3))}k` : value.toFixed(0);
  };
  const peak = (found) => (
    found === null ? "none" : `${shortHertz(found.frequency)} ${signed(found.height)}`);

  return { state, stored, curve, at, drawn, decibel, signed, shortHertz, peak, path };
};
