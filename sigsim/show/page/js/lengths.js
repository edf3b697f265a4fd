/* Lengths under the hand: how far a step goes, and how the result is written in the file's unit. */

/** @import { Item } from "./types.js" */
import { STRAIGHT } from "./fold.js";

/** @typedef {{size: number, far: number, coarse: [number, string], fine: [number, string]}} Steps */

/* In each unit: its size [m], a long step, and the steps of a cable and of a patch with the unit
   they are written in. A patch of "1 ft" goes by inches, which feet cannot say in few digits. */
/** @type {Record<string, Steps>} */
const LENGTH_STEPS = {
  m: { size: 1, far: 1, coarse: [0.1, "m"], fine: [0.01, "m"] },
  cm: { size: 0.01, far: 100, coarse: [10, "cm"], fine: [1, "cm"] },
  mm: { size: 0.001, far: 1000, coarse: [100, "mm"], fine: [10, "mm"] },
  ft: { size: 0.3048, far: 3, coarse: [0.5, "ft"], fine: [1, "in"] },
  in: { size: 0.0254, far: 36, coarse: [6, "in"], fine: [1, "in"] },
};

const LENGTH_HAIR = 1e-6;

/**
 * @param {Item} item
 * @returns {Steps}
 */
const stepsOf = (item) => LENGTH_STEPS[item.unit ?? "m"] ?? LENGTH_STEPS.m;

/**
 * @param {Item} item
 * @param {number} metres
 * @returns {{step: number, each: number, unit: string}} in the unit, and in metres
 */
const stepAt = (item, metres) => {
  const steps = stepsOf(item);
  /* What is drawn as a straight stroke is a patch, but for leads. */
  const fine = !item.lead && metres <= STRAIGHT + LENGTH_HAIR;
  const [step, unit] = fine ? steps.fine : steps.coarse;
  return { step, each: step * LENGTH_STEPS[unit].size, unit };
};

/**
 * The nearest length that the hand can give, never none at all.
 * @param {Item} item
 * @param {number} metres
 * @returns {{text: string, metres: number}}
 */
export const snapped = (item, metres) => {
  const { step, each, unit } = stepAt(item, metres);
  const count = Math.max(1, Math.round(metres / each));
  return { text: `${Number((count * step).toFixed(3))} ${unit}`, metres: count * each };
};

/**
 * The next length up or down.
 * @param {Item} item
 * @param {number} metres where the step begins
 * @param {number} way 1 or -1
 * @param {boolean} far a metre (a yard where it is written in feet) instead of the shortest step
 */
export const stepped = (item, metres, way, far) => {
  if (far) {
    const { far: many, size } = stepsOf(item);
    return snapped(item, metres + way * many * size);
  }
  const { each } = stepAt(item, metres + way * 2 * LENGTH_HAIR);
  const count = way > 0 ? Math.floor(metres / each + LENGTH_HAIR) + 1 : Math.ceil(metres / each - LENGTH_HAIR) - 1;
  return snapped(item, Math.max(count, 1) * each);
};

/**
 * Whether the hand's length is the one that stands there already.
 * @param {Item} item
 * @param {number} metres
 */
export const unchanged = (item, metres) => Math.abs(metres - (item.length ?? 0)) < LENGTH_HAIR;

/**
 * The length of a cable whose end was pulled sideways: a straight one grows as far as the hand went,
 * a folded one by as much as its fold takes in over that width.
 * @param {number} metres before
 * @param {number} pixels to the right
 * @param {number} scale [px/m]
 * @param {number} takes length of a folded path over its width
 */
export const pulled = (metres, pixels, scale, takes) => {
  const straight = STRAIGHT * scale;
  const wide = metres <= STRAIGHT ? metres * scale : straight + ((metres - STRAIGHT) * scale) / takes;
  const now = Math.max(0, wide + pixels);
  return now <= straight ? now / scale : STRAIGHT + ((now - straight) * takes) / scale;
};
