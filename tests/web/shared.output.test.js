import assert from "node:assert/strict";
import test from "node:test";

import { FIRST_STAND, outputGain, outputWords } from "../../web/js/shared/output.js";
import { createBallistics, levelWords } from "../../web/js/shared/meter.js";
import { LOUDEST_LUFS } from "../../web/js/player/deck.js";
import { MATCHED_LUFS } from "../../web/js/player/guard.js";

const dbOf = (/** @type {number} */ stand) => 20 * Math.log10(outputGain(stand));

test("the output slider starts at the usual level, ends 6 dB above, and is silent at 0", () => {
  assert.equal(outputGain(0), 0);
  assert.ok(Math.abs(dbOf(FIRST_STAND)) < 1e-9);
  assert.ok(Math.abs(dbOf(1) - 6) < 1e-9);
  assert.equal(outputGain(7), outputGain(1));
  assert.ok(Math.abs(dbOf(0.5) - dbOf(0.25) - 10) < 1e-9, "40 dB, evenly");
});

test("at its top the loudest position plays at the limit of loudness, no lower", () => {
  assert.ok(Math.abs(MATCHED_LUFS + dbOf(1) - LOUDEST_LUFS) < 1e-9);
});

test("its stands have words", () => {
  assert.deepEqual([0, FIRST_STAND, 1, 0.5].map(outputWords), [
    "silent",
    "usual level",
    "6 dB above the usual level",
    "14 dB below the usual level",
  ]);
});

test("a meter rises at once, falls steadily, and calls a long rest silent", () => {
  const measure = createBallistics();
  assert.deepEqual(measure(0, 0), { db: -60, silent: false });
  assert.ok(Math.abs(measure(0.1, 50).db + 20) < 1e-9);
  assert.ok(Math.abs(measure(0.0011, 550).db + 40) < 1e-9); // 40 dB a second
  assert.equal(measure(0.0001, 1500).silent, false);
  assert.deepEqual(measure(0, 1600), { db: -60, silent: true });
  assert.equal(measure(0.5, 1650).silent, false);
});

test("a meter says what it shows", () => {
  assert.equal(levelWords(false, -60, false), "not playing");
  assert.equal(levelWords(true, -60, true), "silent");
  assert.equal(levelWords(true, -18.4, false), "−18 dB of full scale");
});
