/** What is said of a finished guitar's sound, how loud two sounds play, and where a pair is drawn. */

import assert from "node:assert/strict";
import { test } from "node:test";

import "./page_help.js";
import { layOutPair, TALL, WIDE } from "../../web/js/verifying/chart.js";
import {
  causeTexts,
  matchedGains,
  pairText,
  recordingText,
  settingText,
  verdictText,
} from "../../web/js/verifying/words.js";

const LIKELY = [
  { probability: 0.72, causes: ["the joint at a is open", "the joint at b is open"], terminals: [] },
  { probability: 0.2, causes: ["a touches b"], terminals: [] },
];
const verdict = (word, named = false) => ({
  verdict: word,
  probability_sound: 0.031,
  named,
  likely: LIKELY,
});

test("a verdict says what it is and how sure", () => {
  assert.match(verdictText(verdict("as proposed")).text, /sounds as proposed. No fault: 3 %/);
  assert.equal(verdictText(verdict("unsure")).look, "warn");
  assert.match(verdictText(verdict("not as proposed")).text, /No single cause is clear/);
  assert.doesNotMatch(verdictText(verdict("not as proposed", true)).text, /No single cause/);
});

test("causes are told where something is wrong, one if it is clear", () => {
  assert.deepEqual(causeTexts(verdict("as proposed")), []);
  assert.equal(causeTexts(verdict("not as proposed")).length, 2);
  assert.deepEqual(causeTexts(verdict("not as proposed", true)), [
    "72 %: the joint at a is open, or the joint at b is open",
  ]);
});

test("settings, recordings and pairs are told in words", () => {
  assert.equal(settingText("2 phase=2 tone=0", "Both"), "Position 2, phase at 2, tone at 0: Both");
  assert.equal(recordingText({ strums: 1, seconds: 4.4 }), "1 strum in 4 s");
  const pair = {
    first: "1",
    second: "2",
    agrees: false,
    level_db: -3.24,
    predicted_level_db: 1,
    level_within_db: 2,
  };
  assert.equal(
    pairText(pair),
    "Position 1 against Position 2: −3.2 dB heard, +1.0 dB ± 2.0 dB predicted. They do not agree.",
  );
  assert.match(pairText({ ...pair, level_db: null }), /no band is heard in both/);
});

test("the louder of two sounds is lowered to the other", () => {
  const [one, other] = matchedGains([-14, -20]);
  assert.ok(Math.abs(one - 10 ** (-6 / 20)) < 1e-12);
  assert.equal(other, 1);
  assert.deepEqual(matchedGains([null, -20]), [1, 1]);
});

test("a pair is drawn where both were heard, and what lies outside is marked", () => {
  const bands = [100, 200, 400, 800];
  const pair = {
    heard_db: [0, 12, null, -2],
    predicted_db: [0, 2, 1, -2],
    within_db: [3, 3, 3, 3],
  };
  const laid = layOutPair(pair, bands);
  assert.deepEqual(
    laid.dots.map(({ outside }) => outside),
    [false, true, false],
  );
  assert.ok(laid.dots.every(({ cx, cy }) => cx > 0 && cx < WIDE && cy > 0 && cy < TALL));
  assert.ok(laid.dots[1].cy < laid.dots[0].cy, "more dB lie higher");
  assert.equal(layOutPair({ ...pair, heard_db: [null, null, null, null] }, bands), null);
});
