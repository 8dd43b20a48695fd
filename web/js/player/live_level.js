/** How loud a turned sound may be: what a setting would measure, without playing it. */

import { dbToGain } from "./level.js";

/** @import {Response} from "./live_fir.js" */

/** The loudest that a turned sound may be, LUFS: 0.2 dB over the common loudness. */
export const MOST_LUFS = -20 + 0.2;
/** ITU-R BS.1770: loudness of a mean square of 1, LUFS. */
export const SQUARE_LUFS = -0.691;

/**
 * K-weighted mean powers of the stems, V²: at each frequency the coils' own, then twice the real, then twice
 * the imaginary parts of every pair's.
 * @typedef {{hz: number[], values: number[]}} Powers
 */

/**
 * Loudness of stems through filters, LUFS.
 * @param {Powers} powers @param {number} coils @param {number[]} heard @param {Response[]} responses
 * @param {number} binHz
 */
export function loudnessOf({ hz, values }, coils, heard, responses, binHz) {
  const pairs = (coils * (coils - 1)) / 2;
  let sum = 0;
  hz.forEach((at, band) => {
    const bin = Math.round(at / binHz),
      from = band * coils * coils;
    /** @type {number[]} */
    const re = new Array(coils).fill(0),
      im = new Array(coils).fill(0);
    heard.forEach((k, i) => {
      re[k] = responses[i].real[bin] ?? 0;
      im[k] = responses[i].imag[bin] ?? 0;
    });
    for (let j = 0, pair = from + coils; j < coils; j++) {
      sum += values[from + j] * (re[j] * re[j] + im[j] * im[j]);
      for (let k = j + 1; k < coils; k++, pair++) {
        sum += values[pair] * (re[j] * re[k] + im[j] * im[k]);
        sum -= values[pair + pairs] * (im[j] * re[k] - re[j] * im[k]);
      }
    }
  });
  return SQUARE_LUFS + 10 * Math.log10(Math.max(sum, 1e-30));
}

/**
 * The gain of a turned sound: that of its clip, unless it would be louder than the common loudness. A sound
 * offered turned far down could get dangerously loud.
 * @param {{powers: Powers, coils: number, clipDb: number, stemGain: number}} level  clipDb: from volts to the
 *   clip as the page plays it; stemGain: from samples to volts
 */
export function turnedGain({ powers, coils, clipDb, stemGain }) {
  /** @param {number[]} heard @param {Response[]} responses @param {number} binHz */
  return (heard, responses, binHz) => {
    const mostDb = MOST_LUFS - loudnessOf(powers, coils, heard, responses, binHz);
    return stemGain * dbToGain(Math.min(clipDb, mostDb));
  };
}
