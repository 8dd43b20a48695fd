import assert from "node:assert/strict";
import { test } from "node:test";
import { nextPeak, peakAt, peaksOf } from "../../web/js/bench/peaks.js";
import { peaksInWords, spotOf } from "../../web/js/bench/peak_marks.js";

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
  assert.equal(peaksInWords([peaks[1]]), "peak at 4.11 kHz, +7.6 dB (rises 7.7 dB)");
  assert.match(peaksInWords(peaks), /^peaks at 500 Hz, \+1\.0 dB .*; 4\.11 kHz/);
  assert.equal(peaksInWords([]), "no peak");
});

test("the words of a peak stand where no curve runs", () => {
  const frame = { x: 40, y: 10, width: 400, height: 200 },
    points = Array.from({ length: 100 }, (_, k) => ({ x: 40 + 4 * k, y: 60 }));
  assert.equal(spotOf({ x: 250, y: 60 }, points, frame).y, 50, "above a flat line");
  assert.equal(spotOf({ x: 250, y: 24 }, points, frame).anchor, "end", "no room above");
  const left = points.map((point) => ({ ...point, y: point.x < 250 ? 26 : 100 }));
  assert.equal(spotOf({ x: 250, y: 24 }, left, frame).anchor, "start", "a line on the left");
});
