/** A loop through a chain that bends, as if it had been playing for long. */

import { BLOCK } from "./bank.js";
import { Chain } from "./chain.js";

/** @import {ChainRecord, Way} from "./chain.js" */

/** Blocks between two looks at the clock, and for how long before the page gets its turn, ms. */
const LOOK_BLOCKS = 16,
  RENDER_MS = 12;

/**
 * @typedef {Omit<ChainRecord, "ways" | "caution"> & {way: Way}} OneChain  The chain of one way.
 */

/**
 * Bend a loop in place.
 * @param {Float32Array} loop @param {OneChain} record
 * @param {number} before  gain from samples to volts at the input
 * @param {number} after  gain of what is heard
 * @param {() => boolean} goesOn  asked now and then
 * @returns {Promise<boolean>} false if it did not go on
 */
export async function bendLoop(loop, record, before, after, goesOn) {
  const chain = new Chain({ ...record, ways: [record.way], caution: "" }, record.way),
    { length } = loop,
    { delay } = record.way,
    block = new Float64Array(BLOCK),
    out = new Float32Array(length);
  const lead = Math.ceil(chain.settles / BLOCK) * BLOCK;
  let since = performance.now();
  for (let at = -lead, blocks = 0; at < length + delay; at += BLOCK, blocks++) {
    for (let i = 0; i < BLOCK; i++) block[i] = before * loop[(((at + i) % length) + length) % length];
    chain.run(block, BLOCK);
    for (let i = 0; i < BLOCK; i++) {
      const to = at + i - delay;
      if (to >= 0 && to < length) out[to] = after * block[i];
    }
    if (blocks % LOOK_BLOCKS === 0 && performance.now() - since > RENDER_MS) {
      await new Promise((resolve) => setTimeout(resolve));
      if (!goesOn()) return false;
      since = performance.now();
    }
  }
  loop.set(out);
  return true;
}
