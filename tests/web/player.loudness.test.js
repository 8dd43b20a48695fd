/** The loudness of a finished loop, by the standard's own level; a loop that is too loud is turned down. */

import assert from "node:assert/strict";
import test from "node:test";

import { loudnessOfLoop, turnDown } from "../../web/js/player/loudness.js";

const RATE = 48_000;
/** ITU-R BS.1770-5, annex 1: a sine of 997 Hz at full scale in one channel reads so, LUFS. */
const FULL_SCALE_LUFS = -3.01;
const SAME_LU = 0.02;

/** Whole periods, 2 s. @param {number} peak */
const sine = (peak) =>
  Float32Array.from({ length: 2 * RATE }, (_, k) => peak * Math.sin((2 * Math.PI * 997 * k) / RATE));

/** @param {number} got @param {number} want */
const near = (got, want) => assert.ok(Math.abs(got - want) < SAME_LU, `${got} is not ${want}`);

test("a sine reads as the standard says, and pauses are gated", () => {
  near(loudnessOfLoop(sine(1)), FULL_SCALE_LUFS);
  near(loudnessOfLoop(sine(0.1)), FULL_SCALE_LUFS - 20);
  // above the gate of -70 LUFS and far below the relative one
  const withPause = Float32Array.from({ length: 40 * RATE }, (_, k) => 0.001 * Math.sin(k / 8));
  for (let at = 0; at < 18 * RATE; at += 2 * RATE) withPause.set(sine(0.1), at);
  // the three blocks that the pause cuts into count for less: 1.8 s of 176.7
  assert.ok(Math.abs(loudnessOfLoop(withPause) - (FULL_SCALE_LUFS - 20)) < 0.1);
  assert.equal(loudnessOfLoop(new Float32Array(RATE)), -Infinity);
  near(loudnessOfLoop(sine(0.1).subarray(0, RATE / 10)), FULL_SCALE_LUFS - 20);
});

test("a loop is turned down to 0.2 dB over the usual loudness, and never up", () => {
  const loud = sine(0.5),
    soft = sine(0.05),
    before = Float32Array.from(soft);
  turnDown(loud);
  near(loudnessOfLoop(loud), -19.8);
  turnDown(soft);
  assert.deepEqual(soft, before);
  const silence = new Float32Array(RATE);
  turnDown(silence);
  assert.ok(silence.every((x) => x === 0));
});
