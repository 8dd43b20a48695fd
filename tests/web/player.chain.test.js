import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import test from "node:test";

import { BLOCK } from "../../web/js/player/bank.js";
import { Chain } from "../../web/js/player/chain.js";
import { difference, noise } from "./player_help.js";

/** Cases computed by dsp; see reference/make_chain_cases.py. */
const cases = JSON.parse(readFileSync(new URL("reference/chain_cases.json", import.meta.url), "utf8"));
/** Largest difference to dsp, relative to the largest sample; and of two cuts into blocks. */
const SAME = 1e-6,
  SAME_CUT = 1e-9;
/** What a way may make of silence, re full scale: -140 dB. */
const SILENCE = 1e-7;
const AMPLIFIED = ["clean", "edge", "driven"];

/** @param {string} name @param {number} [loweredDb] @param {any} [record] */
function chainOf(name, loweredDb = 0, record = cases.chain) {
  const way = record.ways.find((/** @type {any} */ one) => one.name === name);
  return new Chain(record, way, loweredDb);
}

/** @param {Chain} chain @param {ArrayLike<number>} volts @param {number} [size] of the blocks */
function heard(chain, volts, size = BLOCK) {
  const out = new Float64Array(volts.length),
    block = new Float64Array(BLOCK);
  for (let at = 0; at < volts.length; at += size) {
    const n = Math.min(size, volts.length - at);
    for (let i = 0; i < n; i++) block[i] = volts[at + i];
    chain.run(block, n);
    out.set(block.subarray(0, n), at);
  }
  return out;
}

/** @param {ArrayLike<number>} samples */
const largest = (samples) => Array.from(samples).reduce((most, v) => Math.max(most, Math.abs(v)), 0);

const volts = Float64Array.from(noise(5, cases.samples), (v) => cases.raised * v);

for (const name of AMPLIFIED)
  for (const lowered of [0, 2.5]) {
    test(`${name}, driven ${lowered} dB less, is what dsp computes`, () => {
      const want = cases.outputs[`${name} ${lowered}`],
        got = heard(chainOf(name, lowered), volts).filter((_, i) => i % cases.every === 0);
      assert.equal(got.length, want.length);
      assert.ok(largest(want) > 0.1);
      assert.ok(difference(got, want) <= SAME * largest(want), `${difference(got, want) / largest(want)}`);
    });
  }

test("the comparison would notice a tap of a half-band a ten-thousandth off", () => {
  const record = structuredClone(cases.chain);
  record.soft.half_bands[0][20] *= 1 + 1e-4;
  const want = cases.outputs["driven 0"],
    got = heard(chainOf("driven", 0, record), volts).filter((_, i) => i % cases.every === 0);
  assert.ok(difference(got, want) > SAME * largest(want));
});

for (const name of AMPLIFIED)
  test(`${name} does not depend on how its blocks are cut`, () => {
    const whole = heard(chainOf(name), volts);
    for (const size of [1, 7, 64, 100]) {
      const cut = heard(chainOf(name), volts, size);
      assert.ok(difference(cut, whole) <= SAME_CUT * largest(whole), `blocks of ${size}`);
    }
  });

for (const name of AMPLIFIED)
  test(`${name} is silent in silence, before a sound and after it`, () => {
    const chain = chainOf(name);
    assert.equal(largest(heard(chain, new Float64Array(4800))), 0);
    heard(chain, volts);
    const rest = heard(chain, new Float64Array(96_000)); // two seconds: the slowest mode needs half of one
    assert.ok(largest(rest) > SILENCE);
    assert.ok(largest(rest.subarray(48_000)) < SILENCE);
  });

for (const name of AMPLIFIED)
  test(`${name} is settled after as many samples as it says`, () => {
    const one = chainOf(name),
      other = chainOf(name);
    heard(one, volts);
    const n = Math.ceil(one.settles / BLOCK) * BLOCK;
    const same = Float64Array.from(noise(9, n), (v) => cases.raised * v);
    heard(one, same);
    heard(other, same);
    const next = volts.subarray(0, 1024);
    const [a, b] = [heard(one, next), heard(other, next)];
    assert.ok(one.settles < 24_000);
    assert.ok(difference(a, b) <= 1e-6 * largest(a), `${difference(a, b)}`);
  });

test("a chain that is reset has forgotten everything", () => {
  const chain = chainOf("driven"),
    first = heard(chain, volts);
  chain.reset();
  assert.equal(difference(heard(chain, volts), first), 0);
});

test("the delay of a way is where its impulse arrives", () => {
  for (const name of AMPLIFIED) {
    const chain = chainOf(name),
      impulse = new Float64Array(512);
    impulse[0] = 1e-6; // small: the curve is straight there
    const out = heard(chain, impulse);
    const top = out.findIndex((v) => Math.abs(v) === largest(out));
    assert.ok(top >= chain.way.delay && top < chain.way.delay + 8, `${name}: ${top}`);
  }
});
