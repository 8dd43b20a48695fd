import assert from "node:assert/strict";
import test from "node:test";

import { BLOCK, Bank, PAST, WARM_BLOCK, warmSamples } from "../../web/js/player/bank.js";
import { readFrame } from "../../web/js/player/frames.js";
import { SAME, bytes, cases, difference, stems } from "./player_help.js";

const { bank: one } = cases;

/** Output of a bank run in blocks of a size. @param {ArrayBuffer} frame @param {number} size */
function played(frame, size) {
  const n = one.output.length,
    bank = new Bank(readFrame(frame));
  const rows = stems(one.coils, n).map((stem) => {
    const row = new Float64Array(PAST + n);
    row.set(stem, PAST);
    return row;
  });
  const out = new Float64Array(n),
    block = new Float64Array(BLOCK);
  for (let at = 0; at < n; at += size) {
    const part = Math.min(size, n - at);
    bank.run(rows, PAST + at, part, block);
    out.set(block.subarray(0, part), at);
  }
  return out;
}

for (const size of [128, 64, 7, 1]) {
  test(`a bank in blocks of ${size} equals dsp's`, () => {
    assert.ok(difference(played(bytes(one.frame), size), one.output) <= SAME);
  });
}

test("the comparison would notice one coefficient a millionth off", () => {
  const all = new Float64Array(bytes(one.frame));
  all[8] *= 1 + 1e-6;
  assert.ok(difference(played(/** @type {ArrayBuffer} */ (all.buffer), 128), one.output) > SAME);
});

test("warming is as long as dsp's", () => {
  for (const name of ["still", "flip", "sweep"]) {
    const found = cases[name].frames.map((/** @type {string} */ text) => warmSamples(readFrame(bytes(text))));
    assert.deepEqual(found, cases[name].warm);
  }
});

test("warming lasts until the slowest mode has decayed by 130 dB", () => {
  const radius = 0.9995,
    a1 = -2 * radius * Math.cos(0.1),
    a2 = radius ** 2;
  const frame = { ...readFrame(bytes(one.frame)), sections: 1, poles: Float64Array.of(a1, a2) };
  assert.equal(warmSamples(frame), Math.floor(130 / (-20 * Math.log10(radius))));
});

test("warming leaves the state that running leaves", () => {
  const frame = readFrame(bytes(one.frame)),
    n = 500;
  const rows = stems(one.coils, n).map((stem) => Float64Array.from([...new Float64Array(PAST), ...stem]));
  const run = new Bank(frame),
    warm = new Bank(frame),
    out = new Float64Array(BLOCK);
  for (let at = 0; at < n; at += 100) run.run(rows, PAST + at, 100, out);
  warm.warm(rows, PAST, n);
  assert.ok(n < WARM_BLOCK);
  assert.ok(difference(warm.state, run.state) <= 1e-15);
  assert.ok(run.state.some((v) => Math.abs(v) > 1e-4));
});

test("silence brings the states to zero, not to denormal numbers", () => {
  const bank = new Bank(readFrame(bytes(one.frame))),
    out = new Float64Array(BLOCK);
  const rows = Array.from({ length: one.coils }, () => new Float64Array(PAST + BLOCK).fill(0.5));
  bank.run(rows, PAST, BLOCK, out);
  for (const row of rows) row.fill(0);
  for (let i = 0; i < 500; i++) bank.run(rows, PAST, BLOCK, out);
  assert.ok(bank.state.every((v) => v === 0));
});
