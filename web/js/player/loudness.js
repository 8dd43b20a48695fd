/** How loud a finished loop is, by ITU-R BS.1770-5, annex 1: K-weighted, in gated blocks of 400 ms. */

import { MOST_LUFS, SQUARE_LUFS } from "./live_level.js";
import { dbToGain } from "./level.js";

/** Tables 1 and 2, for 48 kHz: three numbers forward, two back. */
const SECTIONS = [
  [1.53512485958697, -2.69169618940638, 1.19839281085285, -1.69065929318241, 0.73248077421585],
  [1, -2, 1, -1.99004745483398, 0.99007225036621],
];
/** A quarter of a block, samples: blocks overlap by three of them. */
const HOP = 4800,
  HOPS = 4;
const GATE_LUFS = -70,
  RELATIVE_DB = -10;
/** Before the first, from the loop's end: the filters have settled by then, samples. */
const SETTLED = 4800;

/**
 * Integrated loudness of a loop at 48 kHz, one channel, LUFS; -Infinity for silence.
 * @param {Float32Array} loop
 */
export function loudnessOfLoop(loop) {
  const { length } = loop,
    /** @type {number[]} */
    hops = [];
  /** States of both sections. */
  let a = 0,
    b = 0,
    c = 0,
    d = 0,
    sum = 0;
  const [[b0, b1, b2, a1, a2], [d0, d1, d2, c1, c2]] = SECTIONS;
  // as the meter of a clip: whole hops; a loop shorter than a block fills one
  const end = HOP * Math.max(HOPS, Math.floor(length / HOP));
  for (let at = -SETTLED; at < end; at++) {
    const x = loop[((at % length) + length) % length];
    const y = b0 * x + a;
    a = b1 * x - a1 * y + b;
    b = b2 * x - a2 * y;
    const z = d0 * y + c;
    c = d1 * y - c1 * z + d;
    d = d2 * y - c2 * z;
    if (at < 0) continue;
    sum += z * z;
    if ((at + 1) % HOP === 0) {
      hops.push(sum / HOP);
      sum = 0;
    }
  }
  const blocks = hops
    .slice(HOPS - 1)
    .map((_, k) => hops.slice(k, k + HOPS).reduce((all, one) => all + one, 0) / HOPS);
  const loud = blocks.filter((one) => lufs(one) > GATE_LUFS),
    gate = lufs(mean(loud)) + RELATIVE_DB;
  return lufs(mean(loud.filter((one) => lufs(one) > gate)));
}

/**
 * Turn a loop down, in place, to the loudest that a turned sound may be. Behind a way that bends this cannot
 * be foretold: a knob that takes the bass away takes compression away too.
 * @param {Float32Array} loop
 */
export function turnDown(loop) {
  const gain = dbToGain(MOST_LUFS - loudnessOfLoop(loop));
  if (gain < 1) for (let i = 0; i < loop.length; i++) loop[i] *= gain;
}

/** @param {number} power */
const lufs = (power) => SQUARE_LUFS + 10 * Math.log10(power);

/** @param {number[]} values */
const mean = (values) => values.reduce((sum, one) => sum + one, 0) / Math.max(values.length, 1);
