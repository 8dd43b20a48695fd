import assert from "node:assert/strict";
import test from "node:test";

import { hasLevel, readFrame, unusable } from "../../web/js/player/frames.js";
import { bytes, cases } from "./player_help.js";

const buffer = () => bytes(cases.bank.frame);

/** @param {(all: Float64Array) => void} change */
function changed(change) {
  const all = new Float64Array(buffer());
  change(all);
  return /** @type {ArrayBuffer} */ (all.buffer);
}

test("a frame of the server is read whole", () => {
  const frame = readFrame(buffer());
  assert.equal(frame.id, 9);
  assert.equal(frame.coils, cases.bank.coils);
  assert.equal(frame.matchGainDb, -3.5);
  assert.equal(frame.delay, 12);
  assert.equal(frame.meets, true);
  assert.ok(frame.errorDb > 0 && frame.errorDb <= 0.01);
  assert.equal(frame.poles.length, 2 * frame.sections);
  assert.equal(frame.numerators.length, 2 * frame.coils * frame.sections);
  assert.equal(frame.fir.length, frame.coils * frame.taps);
  assert.equal(frame.fir.at(-1), new Float64Array(buffer()).at(-1));
  assert.equal(unusable(frame), "");
});

test("an unknown level stays unknown, and silence is known", () => {
  const unknown = changed((all) => {
    all[7] = NaN;
  });
  const silent = changed((all) => {
    all[7] = Infinity;
  });
  assert.ok(Number.isNaN(readFrame(unknown).matchGainDb));
  assert.equal(readFrame(silent).matchGainDb, Infinity);
  assert.deepEqual([unknown, silent, changed(() => {})].map(hasLevel), [false, true, true]);
});

/** A frame with another number of taps, and as many coefficients. @param {number} taps */
function frameOf(taps) {
  const all = new Float64Array(buffer()),
    [, coils, sections] = all;
  const resized = new Float64Array(8 + 2 * sections + 2 * coils * sections + coils * taps);
  resized.set(all.subarray(0, Math.min(all.length, resized.length)));
  resized[3] = taps;
  return /** @type {ArrayBuffer} */ (resized.buffer);
}

test("a frame has a multiple of four taps, at most 256", () => {
  for (const taps of [4, 32, 48, 64, 256]) assert.equal(readFrame(frameOf(taps)).taps, taps);
  for (const taps of [0, 1, 31, 33, 62, 260]) assert.throws(() => readFrame(frameOf(taps)), RangeError);
});

for (const [what, broken] of /** @type {[string, ArrayBuffer][]} */ ([
  ["nothing", new ArrayBuffer(0)],
  ["half a number", buffer().slice(0, -3)],
  ["a number short", buffer().slice(0, -8)],
  [
    "a count that is not whole",
    changed((all) => {
      all[2] = 1.5;
    }),
  ],
  [
    "a negative count",
    changed((all) => {
      all[1] = -1;
    }),
  ],
  [
    "a huge count",
    changed((all) => {
      all[3] = 1e9;
    }),
  ],
  [
    "a count that is NaN",
    changed((all) => {
      all[1] = NaN;
    }),
  ],
])) {
  test(`${what} is not a frame`, () => assert.throws(() => readFrame(broken), RangeError));
}

test("unstable poles and values that are not numbers are refused", () => {
  assert.match(
    unusable(
      readFrame(
        changed((all) => {
          all[9] = 1.0001;
        }),
      ),
    ),
    /stable/,
  );
  assert.match(
    unusable(
      readFrame(
        changed((all) => {
          all[8] = -2.1;
        }),
      ),
    ),
    /stable/,
  );
  assert.match(
    unusable(
      readFrame(
        changed((all) => {
          all[all.length - 1] = Infinity;
        }),
      ),
    ),
    /not a number/,
  );
});
