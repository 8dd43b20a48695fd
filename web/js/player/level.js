/** Gains, the place in a looping clip, and the peaks of a waveform. */

/** @param {number} db */
export const dbToGain = (db) => 10 ** (db / 20);

/**
 * The sample of a looping clip that sounds at a sample of the clock.
 * @param {number} elapsed samples of the clock since the clip's first sample
 * @param {number} clock rate of the clock @param {number} rate of the clip
 * @param {number} length of the clip, samples
 */
export function samplePlace(elapsed, clock, rate, length) {
  const sample = clock === rate ? elapsed : (elapsed * rate) / clock;
  return ((sample % length) + length) % length;
}

/** Every fourth sample is enough for a waveform a few pixels wide. */
const PEAK_STRIDE = 4;

/**
 * Largest samples of equal stretches, relative to the largest of all.
 * @param {Float32Array} samples @param {number} bars @returns {number[]} one value a bar, 0 to 1
 */
export function findPeaks(samples, bars) {
  const peaks = Array.from({ length: bars }, (_, bar) => {
    const from = Math.floor((bar * samples.length) / bars),
      to = Math.floor(((bar + 1) * samples.length) / bars);
    let most = 0;
    for (let k = from; k < to; k += PEAK_STRIDE) most = Math.max(most, Math.abs(samples[k]));
    return most;
  });
  const top = Math.max(...peaks);
  return top > 0 ? peaks.map((one) => one / top) : peaks;
}
