import assert from "node:assert/strict";
import { test } from "node:test";
import { nextPeak, peakAt, peaksOf } from "../../web/js/bench/peaks.js";
import { peaksInWords } from "../../web/js/bench/peak_marks.js";

const HZ = Array.from({ length: 217 }, (_, k) => 40 * 2 ** (k / 24));

/** A second-order low-pass. @param {number} f0 @param {number} q */
const lowPass = (f0, q) => HZ.map((hz) => -10 * Math.log10((1 - (hz / f0) ** 2) ** 2 + (hz / f0 / q) ** 2));

test("the peak of a second-order low-pass is where and as high as textbooks say", () => {
  // f0 sqrt(1 - 1/(2 Q^2)) and Q / sqrt(1 - 1/(4 Q^2)): the usual result for this transfer function
  for (const [f0, q] of [
    [3310, 2.4],
    [5020, 4.1],
    [812, 1.1],
  ]) {
    const [peak, ...others] = peaksOf(HZ, lowPass(f0, q), [40, 20000]);
    assert.deepEqual(others, []);
    assert.ok(Math.abs(peak.hz / (f0 * Math.sqrt(1 - 1 / (2 * q * q))) - 1) < 0.002);
    assert.ok(Math.abs(peak.db - 20 * Math.log10(q / Math.sqrt(1 - 1 / (4 * q * q)))) < 0.03);
    assert.ok(Math.abs(peak.rise - peak.db) < 0.05, "it rises out of 0 dB");
  }
});

test("what does not peak has none, and neither has silence", () => {
  assert.deepEqual(peaksOf(HZ, lowPass(3000, 0.7), [40, 20000]), []);
  assert.deepEqual(
    peaksOf(
      HZ,
      HZ.map(() => null),
      [40, 20000],
    ),
    [],
  );
});

test("a comb keeps its four highest lobes, and a rise is counted from the higher foot", () => {
  const comb = HZ.map((hz) => 20 * Math.log10(Math.abs(Math.sin((Math.PI * hz) / 1000)) + 0.01) - hz / 1000);
  const peaks = peaksOf(HZ, comb, [40, 20000]);
  assert.equal(peaks.length, 4);
  assert.deepEqual(
    peaks.map(({ hz }) => Math.round(hz / 500)),
    [1, 3, 5, 7],
  );
  const hill = peaksOf([100, 200, 300, 400, 500, 600, 700], [0, 5, 3, 4, 1, 9, 0], [40, 20000]);
  assert.deepEqual(
    hill.map(({ rise }) => rise),
    [4, 1, 9],
  );
});

test("one goes from peak to peak and around, and reads a peak near by", () => {
  const peaks = [
    { hz: 500, db: 1, rise: 1 },
    { hz: 4110, db: 7.62, rise: 7.7 },
  ];
  assert.equal(nextPeak(peaks, 1000), peaks[1]);
  assert.equal(nextPeak(peaks, 4110), peaks[0]);
  assert.equal(nextPeak([], 1000), undefined);
  assert.equal(peakAt(peaks, 4000, 1.035), peaks[1]);
  assert.equal(peakAt(peaks, 3800, 1.035), undefined);
  const now = { name: "now", mark: "heard", now: true, peaks: [peaks[1]] };
  assert.equal(peaksInWords([now]), "Peak at 4.11 kHz, +7.6 dB (rises 7.7 dB).");
  assert.match(peaksInWords([now, { ...now, name: "B", peaks: [] }]), /^now: peak at .*\. B: no peak\.$/);
});
