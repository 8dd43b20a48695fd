/** Protection for ears: a peak guard, and a limit on the loudness of a setting. */

import { dbToGain } from "./level.js";

/** Samples that the guard looks ahead: 1.3 ms at 48 kHz. */
export const LOOK_AHEAD = 64;
/** Highest sample that the guard lets through: -1 dB of full scale. */
export const CEILING = 10 ** (-1 / 20);
/** Loudness of matched settings, LUFS. The server's match_gain_db leads there. */
export const MATCHED_LUFS = -20;
/** Assumed loudness of a setting that is not measured yet, LUFS at 1 V. */
export const UNKNOWN_LUFS = -6;
const HOLD = LOOK_AHEAD + 1;
/** Part of the way back to 1 per sample: 80 ms at 48 kHz. */
const RELEASE = 1 / 3840;

/**
 * The largest gain that keeps a setting within a loudness.
 * @param {number} matchGainDb from its frame; NaN if unknown
 * @param {number} loudest LUFS
 */
export function mostGain(matchGainDb, loudest) {
  const lufs = Number.isFinite(matchGainDb) ? MATCHED_LUFS - matchGainDb : UNKNOWN_LUFS;
  return dbToGain(loudest - lufs);
}

/**
 * Gain of the output control, 0 to 1: silence at 0, then -60 dB to 0 dB.
 * @param {number} stand
 */
export function outputGain(stand) {
  return stand > 0 ? dbToGain(-60 * (1 - Math.min(stand, 1))) : 0;
}

/**
 * Keeps samples within the ceiling by lowering the gain just before a peak. Below the ceiling it only
 * delays, by LOOK_AHEAD samples.
 *
 * It holds the gain that each sample needs for the look-ahead time, then averages over the same time.
 * When a peak leaves, every gain in its average is therefore at most the gain that the peak needs.
 */
export class PeakGuard {
  constructor() {
    this.ahead = new Float64Array(HOLD);
    this.needed = new Float64Array(HOLD).fill(1);
    this.gains = new Float64Array(HOLD).fill(1);
    this.at = 0;
    this.held = 1;
    this.gain = 1;
    this.busy = 0; // gains below 1 among the averaged
    this.lowest = 1;
  }

  /**
   * Guard samples in place.
   * @param {Float64Array} samples @param {number} n
   * @returns {number} the lowest gain applied
   */
  run(samples, n) {
    this.lowest = 1;
    for (let i = 0; i < n; i++) samples[i] = this.#next(samples[i]);
    return this.lowest;
  }

  /** @param {number} sample */
  #next(sample) {
    const { ahead, needed, gains } = this,
      at = this.at;
    const size = Math.abs(sample),
      need = size > CEILING ? CEILING / size : 1;
    const leaving = needed[at];
    ahead[at] = sample;
    needed[at] = need;
    if (need <= this.held) this.held = need;
    else if (leaving === this.held && leaving < 1) this.held = lowestOf(needed);
    this.gain = Math.min(this.held, this.gain + RELEASE * (1 - this.gain));
    if (this.gain > 1 - 1e-9) this.gain = Math.min(this.held, 1);
    this.busy += Number(this.gain < 1) - Number(gains[at] < 1);
    gains[at] = this.gain;
    this.at = at + 1 === HOLD ? 0 : at + 1;
    const out = ahead[this.at];
    if (this.busy === 0) return out;
    const applied = meanOf(gains);
    if (applied < this.lowest) this.lowest = applied;
    return Math.max(-CEILING, Math.min(CEILING, out * applied)); // the last digit of the mean
  }
}

/** @param {Float64Array} values */
function lowestOf(values) {
  let low = values[0];
  for (let i = 1; i < values.length; i++) if (values[i] < low) low = values[i];
  return low;
}

/** @param {Float64Array} values */
function meanOf(values) {
  let sum = 0;
  for (let i = 0; i < values.length; i++) sum += values[i];
  return sum / values.length;
}
