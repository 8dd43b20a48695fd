/** Protection for ears: a peak guard, and a limit on the loudness of a setting. */

import { BETWEEN, CEILING, LOWERED, SIDE, TAPS } from "./between.js";
import { dbToGain } from "./level.js";

/** Bound of a setting's gain, dB: a ramp needs a number for silence too. */
const MOST_DB = 200;
/** Samples that the guard looks ahead: 1.3 ms at 48 kHz. */
export const LOOK_AHEAD = 64;
/** Loudness of matched settings, LUFS. The server's match_gain_db leads there. */
export const MATCHED_LUFS = -20;
/** Assumed loudness of a setting that is not measured yet, LUFS at 1 V. */
export const UNKNOWN_LUFS = -6;
const HOLD = LOOK_AHEAD - SIDE + 1;
/** Part of the way back to 1 per sample: 80 ms at 48 kHz. */
const RELEASE = 1 / 3840;

/**
 * The largest gain that keeps a setting within a loudness.
 * @param {number} matchGainDb from its frame; NaN if unknown, infinite for silence
 * @param {number} loudest LUFS
 * @param {number} [unknown] loudness to assume while it is unknown, LUFS
 * @param {number} [beside] of what sounds beside it, LUFS
 */
export function mostGain(matchGainDb, loudest, unknown = UNKNOWN_LUFS, beside = -Infinity) {
  const alone = Number.isNaN(matchGainDb) ? unknown : MATCHED_LUFS - matchGainDb;
  const lufs = beside === -Infinity ? alone : 10 * Math.log10(10 ** (alone / 10) + 10 ** (beside / 10));
  return dbToGain(Math.min(loudest - lufs, MOST_DB));
}

/**
 * Keeps the true peak within the ceiling by lowering the gain just before a peak. Below the ceiling it only
 * delays, by LOOK_AHEAD samples.
 *
 * A value between two samples is known SIDE samples later. The guard holds the gain that each value needs for
 * the rest of the look-ahead time, then averages over the same time. When a peak leaves, every gain in its
 * average is therefore at most the gain that the peak needs.
 */
export class PeakGuard {
  constructor() {
    this.ahead = new Float64Array(LOOK_AHEAD + 1);
    this.place = 0;
    /** The latest samples twice, so that they can be read in one piece. */
    this.latest = new Float64Array(4 * SIDE);
    this.newest = 0;
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
    const size = this.#size(sample),
      need = size > LOWERED ? LOWERED / size : 1;
    const leaving = needed[at];
    needed[at] = need;
    if (need <= this.held) this.held = need;
    else if (leaving === this.held && leaving < 1) this.held = lowestOf(needed);
    this.gain = Math.min(this.held, this.gain + RELEASE * (1 - this.gain));
    if (this.gain > 1 - 1e-9) this.gain = Math.min(this.held, 1);
    this.busy += Number(this.gain < 1) - Number(gains[at] < 1);
    gains[at] = this.gain;
    this.at = at + 1 === HOLD ? 0 : at + 1;
    ahead[this.place] = sample;
    this.place = this.place === LOOK_AHEAD ? 0 : this.place + 1;
    const out = ahead[this.place];
    if (this.busy === 0) return out;
    const applied = meanOf(gains);
    if (applied < this.lowest) this.lowest = applied;
    return Math.max(-CEILING, Math.min(CEILING, out * applied)); // the last digit of the mean
  }

  /** The largest value on the sample SIDE before this one, and between it and the next.
   * @param {number} sample */
  #size(sample) {
    const { latest } = this,
      width = 2 * SIDE;
    latest[this.newest] = latest[this.newest + width] = sample;
    this.newest = this.newest + 1 === width ? 0 : this.newest + 1;
    const first = this.newest; // the oldest of them
    let size = Math.abs(latest[first + SIDE - 1]);
    for (let k = 0; k < BETWEEN; k++) {
      let sum = 0;
      for (let i = 0; i < width; i++) sum += TAPS[k * width + i] * latest[first + i];
      size = Math.max(size, Math.abs(sum));
    }
    return size;
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
