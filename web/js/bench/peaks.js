/** The peaks of a response: where they stand, how high, and how far they rise out of what is around them. */

/** @typedef {{hz: number, db: number, rise: number}} Peak  rise: dB above the higher of its two feet */

/** A smaller rise is no resonance that one hears, dB (rule of thumb). */
const LEAST_RISE = 0.5;
/** Two coils along a string make a comb with a lobe in every gap: only the highest count. */
const MOST = 4;

/**
 * The peaks of a curve, in order of frequency. Between its points a parabola over the logarithm of frequency
 * tells where the top is.
 * @param {number[]} hz ascending @param {(number | null)[]} db @param {[number, number]} within Hz
 * @returns {Peak[]}
 */
export function peaksOf(hz, db, [low, high]) {
  const found = [];
  for (let k = 1; k < hz.length - 1; k += 1) {
    const [before, here, after] = [db[k - 1], db[k], db[k + 1]];
    if (before === null || here === null || after === null) continue;
    if (!(here > before && here >= after) || hz[k] < low || hz[k] > high) continue;
    const rise = here - Math.max(foot(db, k, -1), foot(db, k, 1));
    if (rise >= LEAST_RISE) found.push({ ...topOf(hz, [before, here, after], k), rise });
  }
  const highest = [...found].sort((a, b) => b.db - a.db).slice(0, MOST);
  return found.filter((peak) => highest.includes(peak));
}

/**
 * The lowest level beside a peak on the way to a higher one, or to the end of the curve.
 * @param {(number | null)[]} db @param {number} k @param {1 | -1} by
 */
function foot(db, k, by) {
  const top = /** @type {number} */ (db[k]);
  let least = top;
  for (let j = k + by; j >= 0 && j < db.length; j += by) {
    const level = db[j] ?? -Infinity;
    if (level > top) break;
    least = Math.min(least, level);
  }
  return least;
}

/**
 * The top of the parabola through three points.
 * @param {number[]} hz @param {[number, number, number]} levels @param {number} k the middle one
 */
function topOf(hz, [before, here, after], k) {
  const [x0, x1, x2] = [hz[k - 1], hz[k], hz[k + 1]].map(Math.log);
  const left = (here - before) / (x1 - x0),
    right = (after - here) / (x2 - x1),
    bend = (right - left) / (x2 - x0);
  if (!(bend < 0)) return { hz: hz[k], db: here };
  const x = (x0 + x1) / 2 - left / (2 * bend);
  return { hz: Math.exp(x), db: before + left * (x - x0) + bend * (x - x0) * (x - x1) };
}

/**
 * The peak at a frequency, if one is there.
 * @param {Peak[]} peaks @param {number} hz @param {number} near  ratio
 */
export const peakAt = (peaks, hz, near) =>
  peaks.find((peak) => Math.abs(Math.log(peak.hz / hz)) <= Math.log(near));

/** The next peak above a frequency, or the first. @param {Peak[]} peaks @param {number} hz */
export const nextPeak = (peaks, hz) => peaks.find((peak) => peak.hz > hz * 1.001) ?? peaks[0];
