/** A knob that moves by itself. */

import { onTravel } from "./units.js";

/** Where a sweep stands after a time: from, to, and back again. @param {{from: number, to: number, seconds: number}} sweep @param {number} seconds */
export function sweepAt({ from, to, seconds: long }, seconds) {
  const turn = (seconds / long) % 2;
  return onTravel(from + (to - from) * (turn < 1 ? turn : 2 - turn));
}
