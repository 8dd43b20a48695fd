/** Ways to hear a turned sound: a response behind its filters, or its whole loop through a chain. */

import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import test from "node:test";

import { bendLoop } from "../../web/js/player/bend_loop.js";
import { BLOCK } from "../../web/js/player/bank.js";
import { Chain } from "../../web/js/player/chain.js";
import { createFirMaker } from "../../web/js/player/live_fir.js";
import { difference, noise } from "./player_help.js";

const { chain: record } = JSON.parse(
  readFileSync(new URL("reference/chain_cases.json", import.meta.url), "utf8"),
);
const RATE = 48_000;
const BEFORE = 0.7,
  AFTER = 0.25;
/** Of 32-bit samples. */
const ROUNDED = 1e-6;

/** @param {string} name */
const one = (name) => ({
  ...record,
  way: record.ways.find((/** @type {{name: string}} */ way) => way.name === name),
});

for (const name of ["edge", "driven"])
  test(`a loop bent as ${name} is what a chain gives that has run for long`, async () => {
    const length = 4000,
      loop = Float32Array.from(noise(3, length), (x) => 8 * x),
      { way } = one(name);
    const chain = new Chain(record, way),
      rounds = 40,
      got = Float32Array.from(loop),
      block = new Float64Array(BLOCK),
      out = new Float64Array(rounds * length);
    for (let at = 0; at < out.length; at += BLOCK) {
      for (let i = 0; i < BLOCK; i++) block[i] = BEFORE * loop[(at + i) % length];
      chain.run(block, BLOCK);
      for (let i = 0; i < BLOCK && at + i < out.length; i++) out[at + i] = AFTER * block[i];
    }
    assert.ok(rounds * length > 2 * chain.settles);
    assert.equal(await bendLoop(got, one(name), BEFORE, AFTER, () => true), true);
    const from = (rounds - 2) * length + way.delay;
    assert.ok(difference(got, out.subarray(from, from + length)) < ROUNDED);
    // its failing twin: the delay left in
    assert.ok(difference(got, out.subarray(from - 1, from - 1 + length)) > 0.001);
  });

test("a loop that nobody waits for any more is given up and left as it was", async () => {
  const loop = Float32Array.from(noise(4, 20 * RATE)),
    before = Float32Array.from(loop.subarray(0, 100));
  assert.equal(await bendLoop(loop, one("driven"), 1, 1, () => false), false);
  assert.deepEqual(loop.subarray(0, 100), before);
});

test("a response behind others multiplies them, between its frequencies too", () => {
  const hz = /** @type {[number, number, number]} */ ([4, 22_500, 140]),
    maker = createFirMaker(hz, RATE),
    [low, high, count] = hz;
  const at = Array.from({ length: count }, (_, k) => low * (high / low) ** (k / (count - 1)));
  /** A high-pass of 120 Hz, as the loudspeaker's. @param {number} f */
  const response = (f) => {
    const x = f / 120,
      size = 1 + x * x;
    return { re: (x * x) / size, im: x / size };
  };
  const row = Float64Array.from([...at.map((f) => response(f).re), ...at.map((f) => response(f).im)]);
  const half = 8192,
    flat = { real: new Float64Array(half).fill(0.6), imag: new Float64Array(half).fill(0.8) };
  const [made] = maker.through([flat], row);
  for (let k = 3; k < half * 0.9; k += 7) {
    const { re, im } = response(k * maker.binHz);
    assert.ok(Math.hypot(made.real[k] - (0.6 * re - 0.8 * im), made.imag[k] - (0.6 * im + 0.8 * re)) < 1e-5);
  }
});
