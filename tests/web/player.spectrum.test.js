import assert from "node:assert/strict";
import { test } from "node:test";
import { createAverage, createBands } from "../../web/js/player/spectrum.js";
import { SPECTRUM_LOOK } from "../../web/js/player/tap.js";

const RATE = 48000;

/**
 * The bins of a sine as the Web Audio standard defines them: a Blackman window, the transform over N.
 * Written from the window's own transform, apart from the code under test.
 * @param {number} hz @param {number} amplitude
 */
function sineBins(hz, amplitude) {
  const at = (hz * SPECTRUM_LOOK) / RATE;
  /** @param {number} x bins off the centre */
  const kernel = (x) => (Math.abs(x) < 1e-9 ? 1 : Math.sin(Math.PI * x) / (Math.PI * x));
  /** @param {number} x */
  const window = (x) =>
    0.42 * kernel(x) + 0.25 * (kernel(x - 1) + kernel(x + 1)) + 0.04 * (kernel(x - 2) + kernel(x + 2));
  return Float32Array.from(
    { length: SPECTRUM_LOOK / 2 },
    (_, k) => 20 * Math.log10(Math.abs((amplitude / 2) * window(k - at)) + 1e-15),
  );
}
const bands = createBands(RATE, [40, 20000]);
/** @param {Float32Array} bins */
const levels = (bins) => createAverage(1)(bands.powers(bins), 0);

test("a sine of full scale reads 0 dB in its band, at half scale 6 dB less", () => {
  for (const k of [3, 20, 31, 44]) {
    assert.ok(Math.abs(levels(sineBins(bands.hz[k], 1))[k]) < 0.2, `${bands.hz[k]} Hz`);
    assert.ok(Math.abs(levels(sineBins(bands.hz[k], 0.5))[k] + 6.02) < 0.2);
  }
});

test("bands are sixths of an octave: white noise rises by 3 dB an octave above the finest band", () => {
  const noise = levels(new Float32Array(SPECTRUM_LOOK / 2).fill(-80));
  for (let k = 20; k + 6 < bands.hz.length; k += 1)
    assert.ok(Math.abs(noise[k + 6] - noise[k] - 3.01) < 0.05, `${bands.hz[k]} Hz`);
  assert.ok(Math.abs(noise[1] - noise[0]) < 0.1, "no finer than the analysis");
});

test("the average falls by 1/e in its time, and starts at once", () => {
  const average = createAverage(0.5);
  assert.ok(Math.abs(average([1], 0)[0]) < 1e-6);
  assert.ok(Math.abs(average([0], 500)[0] + 4.34) < 0.01);
});
