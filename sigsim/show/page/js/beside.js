/* Curves that a report has beside those of the board: other boards, and the tolerances. */

/** @import { View } from "./store.js" */
/** @import { Extra } from "./extras.js" */

/** @typedef {{name: string, off: (number|null)[], worst: (number|null)[]}} Other another board's gain [dB] */
/** @typedef {{state: number, on: number[], low: (number|null)[], high: (number|null)[]}} Band */

/**
 * @param {Band} band
 * @param {View} view
 */
const isOf = (band, { shown, chosen }) => (shown.data.live
  ? shown.model.heard(new Set(band.on)) === shown.model.heard(shown.on) : band.state === chosen);

/**
 * Other boards with all off, or at their worst where the worst is shown; the band of tolerances
 * where this state has one.
 * @param {View} view
 * @param {Other[]} others
 * @param {Band[]} bands
 * @returns {Extra[]}
 */
export const extraCurves = (view, others, bands) => {
  const { data, model, on } = view.shown;
  const last = data.states.length - 1;
  const worst = view.chosen === last
    && (!data.live || model.heard(on) === model.heard(new Set(data.states[last].on)));
  const band = bands.find((one) => isOf(one, view));
  return [
    ...(band ? [{ name: "5 to 95 % of the tolerances", low: band.low, high: band.high }] : []),
    ...others.map((other) => ({
      name: `${other.name}, ${worst ? "worst" : data.allOff}`, values: worst ? other.worst : other.off })),
  ];
};
