/** Sentences about a blind test. The server draws X, keeps it until the end, and counts. */

import { showSeconds } from "../shared/units.js";

/** @import {BlindScore, BlindTest, BlindTests} from "../shared/types.js" */

/**
 * The outcome in plain words.
 * @param {Pick<BlindTest, "trials" | "needed">} test @param {BlindScore} score
 */
export function verdict({ trials, needed }, { right, chance, heard }) {
  const found = `${right} of ${trials} right. Guessing does at least that well ${often(chance)}.`;
  return heard
    ? `${found} You can hear a difference between these two on this take and this setup.`
    : `${found} That does not show that you hear a difference (${needed} of ${trials} would). Nor does it show that none exists.`;
}

/** What was computed of the two sounds, beside the outcome. @param {BlindTest["computed"]} computed */
export const computedInWords = (computed) =>
  computed
    ? `Computed from chords: ${computed.largest_db.toFixed(1)} dB in the band that differs most, ${computed.heard} by published thresholds.`
    : "";

/** The measure against the results so far. @param {BlindTests["measure"]} rows */
export const measureInWords = (rows) =>
  rows.length
    ? `The measure against these results: ${rows.map(({ computed, tests, shown }) => `${shown} of ${tests} computed as “${computed}” showed a difference`).join("; ")}.`
    : "";

/** How both sounds of a test are heard. @param {Pick<BlindTest, "way" | "heard">} test */
export const heardInWords = ({ way, heard }) => `Heard ${way}${heard ? `: ${heard}` : ""}.`;

/** @param {number} chance */
function often(chance) {
  if (chance >= 0.995) return "always";
  if (chance < 0.0005) return "in fewer than 1 of 2000 tests";
  return chance > 0.1
    ? `in ${Math.round(chance * 100)} of 100 tests`
    : `in 1 of ${Math.round(1 / chance)} tests`;
}

/** The state of a test, for a line of a list. @param {BlindTest} test */
export function standing({ state, answered, trials, needed, score, problem }) {
  if (score)
    return `${score.right} of ${trials} right, ${needed} needed: ${score.heard ? "difference heard" : "no difference shown"}, p = ${showChance(score.chance)}`;
  if (state === "given up") return `given up after ${answered} of ${trials} trials`;
  if (state === "failed") return `not started: ${problem}`;
  return `under way: ${answered} of ${trials} trials answered`;
}

/** @param {number} chance */
export const showChance = (chance) => (chance < 0.001 ? "less than 0.001" : chance.toFixed(3));

/**
 * The part of a take that is compared: its loop or the whole take, cut to the longest allowed.
 * @param {number} seconds of the take @param {[number, number] | undefined} loop @param {number} longest
 * @returns {{from: number, to: number, cut: boolean}}
 */
export function chooseStretch(seconds, loop, longest) {
  const [from, end] = loop ?? [0, seconds];
  const to = Math.min(end, from + longest);
  return { from, to, cut: to < end - 1e-6 };
}

/** @param {{from: number, to: number, cut: boolean}} stretch @param {string} take */
export const stretchInWords = ({ from, to, cut }, take) =>
  `On ${take}, ${from > 0 ? `from ${showSeconds(from)}, ` : ""}${showSeconds(to - from)} in a loop${cut ? ", cut to the longest a test allows: set a loop to choose another part" : ""}.`;
