/** The part of a long take to fetch: the server limits the length of stems. */

/** Longest part that the server sends, s. */
export const LONGEST_S = 180;
/** Parts start on this grid, s, so that moving a loop a little needs no new stems. */
const GRID_S = 60;

/**
 * @param {number} seconds of the whole take; 0 if that is not known yet
 * @param {[number, number] | undefined} loop seconds; none for the whole take
 * @returns {{from: number, loop: [number, number]}} the start of the part, and the loop counted from it
 */
export function stretchOf(seconds, loop) {
  const [start, end] = loop ?? [0, seconds];
  const from = Math.max(seconds, end) <= LONGEST_S ? 0 : Math.floor(start / GRID_S) * GRID_S;
  return { from, loop: [start - from, Math.min(end - from, LONGEST_S)] };
}
