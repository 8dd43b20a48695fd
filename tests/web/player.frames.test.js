import assert from "node:assert/strict";
import test from "node:test";

import { readFrame, unusable } from "../../web/js/player/frames.js";
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

test("an unknown level stays unknown", () => {
  assert.ok(
    Number.isNaN(
      readFrame(
        changed((all) => {
          all[7] = NaN;
        }),
      ).matchGainDb,
    ),
  );
});

for (const [what, broken] of /** @type {[string, ArrayBuffer][]} */ ([
  ["nothing", new ArrayBuffer(0)],
  ["half a number", buffer().slice(0, -3)],
  ["a number short", buffer().slice(0, -8)],
  [
    "a count that is none",
    changed((all) => {
      all[2] = 1.5;
    }),
  ],
  [
    "a count below nought",
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
  test(`${what} is no frame`, () => assert.throws(() => readFrame(broken), RangeError));
}

test("what would not be stable or is no number is not run", () => {
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
