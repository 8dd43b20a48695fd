/** Gains, and the place of a looping clip. */

/** @param {number} db */
export const dbToGain = (db) => 10 ** (db / 20);

/** The sample of a looping clip that sounds at a sample of the clock. @param {number} elapsed samples of the clock since its first
 * @param {number} clock rate of the clock @param {number} rate of the clip @param {number} length of the clip, samples */
export function samplePlace(elapsed, clock, rate, length) {
  const sample = clock === rate ? elapsed : (elapsed * rate) / clock;
  return ((sample % length) + length) % length;
}
