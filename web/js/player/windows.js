/** The stretch of a long take that is fetched: stems come at most so long at a time. */

/** Longest stretch the server sends, seconds. */
export const LONGEST_S = 180;
/** A stretch begins on this grid, seconds, so that a loop moved a little needs no new one. */
const GRID_S = 60;

/**
 * @param {number} seconds of the whole take
 * @param {[number, number] | undefined} loop seconds; none for the whole take
 * @returns {{from: number, loop: [number, number]}} where the stretch begins, and the loop counted from there
 */
export function stretchOf(seconds, loop) {
  const [start, end] = loop ?? [0, seconds];
  const from = seconds <= LONGEST_S ? 0 : Math.floor(start / GRID_S) * GRID_S;
  return { from, loop: [start - from, Math.min(end - from, LONGEST_S)] };
}
