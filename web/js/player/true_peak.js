/** The true peak of finished samples: their largest value, on them and between them. */

import { BETWEEN, SIDE, TAPS } from "./between.js";

const BLOCK = 32;
/** Most that a value between samples can exceed the largest sample around it. */
const MOST = Math.max(
  ...Array.from({ length: BETWEEN }, (_, k) =>
    TAPS.subarray(k * 2 * SIDE, (k + 1) * 2 * SIDE).reduce((sum, tap) => sum + Math.abs(tap), 0),
  ),
);

/** @param {Float32Array} samples */
export function truePeak(samples) {
  let most = 0;
  for (const sample of samples) most = Math.max(most, Math.abs(sample));
  for (let at = 0; at < samples.length; at += BLOCK) {
    const end = Math.min(at + BLOCK, samples.length);
    let around = 0;
    for (let i = Math.max(at - SIDE, 0); i < Math.min(end + SIDE, samples.length); i++)
      around = Math.max(around, Math.abs(samples[i]));
    // nothing here can be larger
    if (around * MOST <= most) continue;
    for (let i = at; i < end; i++) most = Math.max(most, between(samples, i));
  }
  return most;
}

/** The largest value between a sample and the next. @param {Float32Array} samples @param {number} at */
function between(samples, at) {
  let size = 0;
  for (let k = 0; k < BETWEEN; k++) {
    let sum = 0;
    for (let i = 0; i < 2 * SIDE; i++) sum += TAPS[k * 2 * SIDE + i] * (samples[at - SIDE + 1 + i] ?? 0);
    size = Math.max(size, Math.abs(sum));
  }
  return size;
}
