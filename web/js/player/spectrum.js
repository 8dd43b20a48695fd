/**
 * The spectrum of what leaves a page: levels of bands, from the bins of an `AnalyserNode`. 0 dB is a sine of
 * full scale.
 */

import { SPECTRUM_LOOK } from "./tap.js";

const PER_OCTAVE = 6;
/** A sine spreads over this many bins of a Blackman window; a narrower band would miss a part of it. */
const SPREAD = 4;
/**
 * Sum of a full-scale sine's bins: a quarter of the mean square of the Blackman window that the Web Audio
 * standard gives the analyser, 0.42² + 0.5²/2 + 0.08²/2.
 */
const FULL_SCALE = (0.42 ** 2 + 0.5 ** 2 / 2 + 0.08 ** 2 / 2) / 4;

/**
 * Sixths of an octave, and nowhere finer than the analysis.
 * @param {number} rate Hz @param {[number, number]} range Hz
 */
export function createBands(rate, [low, high]) {
  const bin = rate / SPECTRUM_LOOK,
    half = 2 ** (1 / (2 * PER_OCTAVE)),
    count = Math.floor(PER_OCTAVE * Math.log2(high / low)) + 1;
  const hz = Array.from({ length: count }, (_, k) => low * 2 ** (k / PER_OCTAVE));
  const edges = hz.map((centre) => {
    const from = centre / half / bin,
      to = (centre * half) / bin,
      more = Math.max(0, SPREAD - (to - from)) / 2;
    return [Math.max(0.5, from - more), Math.min(SPECTRUM_LOOK / 2 - 0.5, to + more)];
  });
  return {
    hz,
    /**
     * The power in each band; 1 is a sine of full scale.
     * @param {Float32Array} levels of the bins, dB, as the analyser gives them
     */
    powers(levels) {
      return edges.map(([from, to]) => {
        let sum = 0;
        for (let k = Math.round(from); k <= Math.round(to); k += 1) {
          const inside = Math.min(to, k + 0.5) - Math.max(from, k - 0.5);
          if (inside > 0) sum += inside * 10 ** (levels[k] / 10);
        }
        return sum / FULL_SCALE;
      });
    },
  };
}

/**
 * Average powers over time.
 * @param {number} seconds time after which a sound that has ended is 4 dB weaker
 */
export function createAverage(seconds) {
  /** @type {number[] | null} */
  let mean = null;
  let before = NaN;
  /** @param {number[]} powers @param {number} now ms @returns {number[]} dB */
  return (powers, now) => {
    const kept = mean ? Math.exp(-(now - before) / 1000 / seconds) : 0;
    const last = mean ?? powers;
    mean = powers.map((power, k) => kept * last[k] + (1 - kept) * power);
    before = now;
    return mean.map((power) => 10 * Math.log10(power + 1e-12));
  };
}
