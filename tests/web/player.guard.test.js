import assert from "node:assert/strict";
import test from "node:test";

import { CEILING } from "../../web/js/player/between.js";
import { LOOK_AHEAD, PeakGuard, UNKNOWN_LUFS, mostGain } from "../../web/js/player/guard.js";
import { dbToGain } from "../../web/js/player/level.js";
import { noise, truePeak } from "./player_help.js";

/** @param {Float64Array} samples @param {number} [size] */
function guarded(samples, size = 128) {
  const guard = new PeakGuard(),
    out = Float64Array.from(samples);
  for (let at = 0; at < out.length; at += size)
    guard.run(out.subarray(at, at + size), Math.min(size, out.length - at));
  return out;
}

const peak = (/** @type {Float64Array} */ x) => x.reduce((most, v) => Math.max(most, Math.abs(v)), 0);

test("the ceiling is -1 dB of full scale, the look-ahead 1.3 ms", () => {
  assert.ok(Math.abs(20 * Math.log10(CEILING) + 1) < 1e-12);
  assert.ok(Math.abs(LOOK_AHEAD / 48 - 1.33) < 0.01);
});

test("below the ceiling nothing changes, bit for bit, except for the delay", () => {
  const raw = noise(5, 20000),
    scale = dbToGain(-1.3) / truePeak(raw);
  const samples = Float64Array.from(raw, (v) => v * scale);
  const out = guarded(samples);
  for (let i = 0; i < samples.length - LOOK_AHEAD; i++) assert.equal(out[i + LOOK_AHEAD], samples[i]);
});

for (const [what, make] of /** @type {[string, (i: number, v: number) => number][]} */ ([
  ["noise four times too loud", (_, v) => 7 * v],
  ["single clicks of +40 dB", (i, v) => (i % 1777 === 500 ? 100 : 0.2 * v)],
  ["a step from quiet to +12 dB", (i, v) => (i < 9000 ? 0.1 : 4) * v * 2],
  ["a loud low sine", (i) => 3 * Math.sin((2 * Math.PI * 41.2 * i) / 48000)],
  ["+200 dB", (i, v) => (i > 5000 ? 1e10 : 1) * v],
])) {
  test(`${what} never exceeds the ceiling`, () => {
    const raw = noise(11, 24000).map((v) => 8 * v),
      samples = Float64Array.from(raw, (v, i) => make(i, v));
    assert.ok(peak(samples) > CEILING);
    for (const size of [128, 31]) {
      const out = guarded(samples, size);
      assert.ok(peak(out) <= CEILING);
      assert.ok(peak(out) > 0.2 * CEILING);
    }
  });
}

test("between samples too: a tone that never shows its top", () => {
  const quarter = (/** @type {number} */ i) => Math.SQRT2 * Math.sin((Math.PI / 2) * i + Math.PI / 4);
  const samples = Float64Array.from({ length: 9600 }, (_, i) => 0.8 * quarter(i) * Math.min(1, i / 4800));
  assert.ok(peak(samples) < CEILING && truePeak(samples) > 1.2 * CEILING);
  const after = truePeak(guarded(samples));
  assert.ok(after <= CEILING && after > 0.95 * CEILING, `${20 * Math.log10(after)} dBTP`);
});

test("between samples too: a loud chord up to 10 kHz, with a sudden start", () => {
  const partials = Array.from({ length: 90 }, (_, k) => 110.3 * (k + 1));
  const samples = Float64Array.from({ length: 24000 }, (_, i) =>
    i % 6000 < 300
      ? 0
      : partials.reduce(
          (sum, hz, k) => sum + (0.6 / (k + 1)) * Math.sin((2 * Math.PI * hz * i) / 48000 + k * k),
          0,
        ),
  );
  assert.ok(truePeak(samples) > 1.1 * CEILING);
  const after = truePeak(guarded(samples));
  assert.ok(after <= CEILING, `${20 * Math.log10(after)} dBTP`);
});

test("half a second after a peak the guard has no effect", () => {
  const samples = new Float64Array(48000).fill(0.25);
  samples[100] = 5;
  const out = guarded(samples);
  const lowered = out[100 + LOOK_AHEAD];
  assert.ok(lowered < dbToGain(-1.14) && lowered > dbToGain(-1.2)); // by its gain, before the last clip
  assert.ok(out[200] < 0.1);
  assert.ok(Math.abs(out[24000] - 0.25) < 0.25 * 0.005);
  let step = 0;
  for (let i = LOOK_AHEAD + 1; i < 48000; i++)
    if (Math.abs(i - 164.5) > 1) step = Math.max(step, Math.abs(out[i] - out[i - 1]));
  assert.ok(step < 0.01, `a step of ${step}`); // it turns down over its look-ahead, it does not jump
});

test("a setting is no louder than the limit", () => {
  const setting = -9; // match gain of -9 dB: the setting has -11 LUFS at 1 V
  assert.ok(Math.abs(mostGain(setting, -14) - dbToGain(-3)) < 1e-12);
  assert.ok(Math.abs(mostGain(NaN, -14) - dbToGain(-14 - UNKNOWN_LUFS)) < 1e-12);
  assert.ok(mostGain(Infinity, -14) > 1e6 && Number.isFinite(mostGain(Infinity, -14))); // silence
});
