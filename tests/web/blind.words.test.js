import assert from "node:assert/strict";
import { test } from "node:test";
import {
  chooseStretch,
  computedInWords,
  heardInWords,
  measureInWords,
  showChance,
  standing,
  stretchInWords,
  verdict,
} from "../../web/js/blind/words.js";

const TEST = {
  id: "t",
  state: /** @type {const} */ ("done"),
  problem: "",
  created: "",
  ended: "",
  take_name: "Riff",
  way: "clean",
  heard: "through tone controls and a loudspeaker, undistorted",
  sounds: [],
  trials: 12,
  needed: 10,
  answered: 12,
  computed: null,
  score: null,
};
/** Chances from the definition of the binomial at 1/2: ways over 2^12. */
const FAILED = { right: 8, chance: 794 / 4096, heard: false, drawn: "A".repeat(12), answers: "" };
const HEARD = { right: 10, chance: 79 / 4096, heard: true, drawn: "A".repeat(12), answers: "" };

test("a test says how its sounds were heard", () => {
  assert.equal(heardInWords(TEST), "Heard clean: through tone controls and a loudspeaker, undistorted.");
});

test("the computed difference stands beside the result, and the measure beside all of them", () => {
  assert.equal(
    computedInWords({ largest_db: 2.34, heard: "heard" }),
    "Computed from chords: 2.3 dB in the band that differs most, heard by published thresholds.",
  );
  assert.equal(computedInWords(null), "");
  const rows = [
    { computed: "at the edge", tests: 2, shown: 1 },
    { computed: "heard", tests: 3, shown: 3 },
  ];
  assert.equal(
    measureInWords(rows),
    "The measure against these results: 1 of 2 computed as “at the edge” showed a difference; 3 of 3 computed as “heard” showed a difference.",
  );
  assert.equal(measureInWords([]), "");
});

test("a failed test never claims that there is no difference", () => {
  assert.match(verdict(TEST, FAILED), /Nor does it show that none exists/);
  assert.match(verdict(TEST, FAILED), /8 of 12 right. Guessing does at least that well in 19 of 100 tests/);
  assert.match(verdict(TEST, FAILED), /10 of 12 would\)/);
});

test("a passed test states the score, and how often guessing does as well", () => {
  assert.match(verdict(TEST, HEARD), /in 1 of 52 tests/);
  assert.match(verdict(TEST, HEARD), /You can hear a difference/);
  assert.doesNotMatch(verdict(TEST, HEARD), /none/);
  assert.match(verdict(TEST, { ...HEARD, chance: 1 / 4096 }), /fewer than 1 of 2000/);
  assert.match(verdict(TEST, { ...FAILED, chance: 1 }), /always/);
});

test("a line of the list has score and chance, or the reason for none", () => {
  assert.equal(standing({ ...TEST, score: HEARD }), "10 of 12 right, 10 needed: difference heard, p = 0.019");
  assert.match(standing({ ...TEST, score: FAILED }), /no difference shown/);
  assert.equal(standing({ ...TEST, state: "given up", answered: 3 }), "given up after 3 of 12 trials");
  assert.equal(standing({ ...TEST, state: "failed", problem: "silence" }), "not started: silence");
  assert.equal(standing({ ...TEST, state: "open", answered: 3 }), "under way: 3 of 12 trials answered");
  assert.equal(showChance(0.0002), "less than 0.001");
});

test("the stretch is the loop or the whole take, up to the limit of a test", () => {
  assert.deepEqual(chooseStretch(12, undefined, 30), { from: 0, to: 12, cut: false });
  assert.deepEqual(chooseStretch(100, [4, 9], 30), { from: 4, to: 9, cut: false });
  assert.deepEqual(chooseStretch(100, undefined, 30), { from: 0, to: 30, cut: true });
  assert.match(
    stretchInWords({ from: 0, to: 30, cut: true }, "Riff"),
    /30\.0 s in a loop, cut to the longest/,
  );
  assert.match(
    stretchInWords({ from: 4, to: 9, cut: false }, "Riff"),
    /^On Riff, from 4\.0 s, 5\.0 s in a loop\.$/,
  );
});
