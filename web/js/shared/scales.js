/** From numbers to places on a picture, and back. */

/** @typedef {{to: (value: number) => number, from: (place: number) => number}} Scale */

/** @param {[number, number]} domain @param {[number, number]} range @returns {Scale} */
export function linear([d0, d1], [r0, r1]) {
  const slope = (r1 - r0) / (d1 - d0);
  return { to: (value) => r0 + (value - d0) * slope, from: (place) => d0 + (place - r0) / slope };
}

/** @param {[number, number]} domain both above 0 @param {[number, number]} range @returns {Scale} */
export function logarithmic([d0, d1], range) {
  const inner = linear([Math.log(d0), Math.log(d1)], range);
  return { to: (value) => inner.to(Math.log(value)), from: (place) => Math.exp(inner.from(place)) };
}

/** Frequencies worth a line: 1, 2 and 5 of each decade. @param {number} low @param {number} high */
export function frequencyTicks(low, high) {
  const ticks = [];
  for (let decade = 10 ** Math.floor(Math.log10(low)); decade <= high; decade *= 10)
    for (const first of [1, 2, 5])
      if (first * decade >= low && first * decade <= high) ticks.push(first * decade);
  return ticks;
}

/** @param {number} hz */
export const shortHz = (hz) => (hz >= 1000 ? `${hz / 1000} k` : `${hz}`);

/** Height of the response plot, dB: from the loudest there is down to where nothing is heard beside it. */
export const SHOWN_DB = 54;

/** The dB range that shows a set of curves: its top on a multiple of 6. @param {(number | null)[][]} curves @returns {[number, number]} */
export function levelRange(curves) {
  let top = -Infinity;
  for (const curve of curves) for (const value of curve) if (value !== null && value > top) top = value;
  const ceiling = Number.isFinite(top) ? Math.ceil((top + 1) / 6) * 6 : 6;
  return [ceiling - SHOWN_DB, ceiling];
}

/** @param {[number, number]} range @param {number} [step] */
export function levelTicks([low, high], step = 12) {
  const ticks = [];
  for (let at = Math.ceil(low / step) * step; at <= high; at += step) ticks.push(at === 0 ? 0 : at);
  return ticks;
}
