/** Sweeps: a knob that moves from one value to another and back. */

import { fixed, onTravel, showKnob } from "../shared/units.js";

/** @typedef {{from: number, to: number, seconds: number}} Sweep  seconds: one way */

/** @type {Readonly<Sweep>} */
const USUAL = { from: 10, to: 0, seconds: 6 };

/** Label and limits of each value of a sweep. */
export const SWEEP_FIELDS = /** @type {const} */ ([
  { key: "from", label: "from", min: 0, max: 10, step: 0.5 },
  { key: "to", label: "to", min: 0, max: 10, step: 0.5 },
  { key: "seconds", label: "seconds", min: 0.5, max: 60, step: 0.5 },
]);

/**
 * The saved sweep of a knob, completed by the defaults.
 * @param {Partial<Sweep> | undefined} kept
 * @returns {Sweep}
 */
export const sweepOf = (kept) =>
  kept && sweepProblem({ ...USUAL, ...kept }) === "" ? { ...USUAL, ...kept } : USUAL;

/** Why a sweep cannot run, or empty. @param {Sweep} sweep */
export function sweepProblem(sweep) {
  for (const { key, label, min, max } of SWEEP_FIELDS) {
    const value = sweep[key];
    if (!(typeof value === "number" && value >= min && value <= max)) return `${label}: ${min} to ${max}`;
  }
  return sweep.from === sweep.to ? "from and to are the same: the knob would not move" : "";
}

/** @param {Sweep} sweep */
export const sweepInWords = ({ from, to, seconds }) =>
  `${showKnob(from)} to ${showKnob(to)} and back, ${fixed(seconds)} s each way`;

/** The knob's value after a time: from, to, and back again. @param {Sweep} sweep @param {number} seconds */
export function sweepAt({ from, to, seconds: long }, seconds) {
  const turn = (seconds / long) % 2;
  return onTravel(from + (to - from) * (turn < 1 ? turn : 2 - turn));
}
