import assert from "node:assert/strict";
import { test } from "node:test";
import { answer, chanceOf, hidden, isOver, LENGTHS, needed, scoreOf, startBlind, verdict } from "../../web/js/pure/blind.js";

/** Right answers needed for p < 0.05, one-sided: cumulative binomial tables, p = 1/2 (any handbook of statistics). */
const NEEDED = { 8: 7, 10: 9, 12: 10, 16: 12 };
/** Upper tails of the binomial at 1/2 from its definition, summed by hand: ways over 2^n. */
const TAILS = [[7, 8, 9 / 256], [6, 8, 37 / 256], [9, 10, 11 / 1024], [8, 10, 56 / 1024], [10, 12, 79 / 4096], [12, 16, 2517 / 65536], [0, 12, 1]];

test("the right answers needed are those of the tables", () => {
  for (const trials of LENGTHS) assert.equal(needed(trials), NEEDED[/** @type {8} */ (trials)]);
});

test("the chance of guessing is the upper tail of the binomial", () => {
  for (const [right, trials, chance] of TAILS) assert.ok(Math.abs(chanceOf(right, trials) - chance) < 1e-12, `${right} of ${trials}`);
});

test("one right answer fewer is not enough", () => {
  for (const trials of LENGTHS) assert.ok(chanceOf(needed(trials) - 1, trials) >= 0.05);
});

test("X is drawn before the first trial and does not change", () => {
  let asked = 0;
  const random = (/** @type {number} */ n) => { asked += 1; return Uint8Array.from({ length: n }, (_, k) => k); };
  let blind = startBlind(8, random);
  const drawn = [...blind.draws];
  for (const said of drawn) { assert.equal(hidden(blind), drawn[blind.answers.length]); blind = answer(blind, said); }
  assert.equal(asked, 1);
  assert.deepEqual(blind.draws, drawn);
  assert.deepEqual(new Set(drawn), new Set([0, 1]));
});

test("there is no score before the last answer, and no answer after it", () => {
  let blind = startBlind(8, (n) => new Uint8Array(n));
  for (let k = 0; k < 8; k += 1) { assert.equal(scoreOf(blind), null); blind = answer(blind, 0); }
  assert.ok(isOver(blind));
  assert.equal(answer(blind, 1), blind);
  assert.deepEqual(scoreOf(blind), { right: 8, trials: 8, chance: 1 / 256, needed: 7, heard: true });
});

test("a failed test is not said to prove that there is no difference", () => {
  const score = { right: 8, trials: 12, chance: chanceOf(8, 12), needed: 10, heard: false };
  assert.match(verdict(score), /does not show that there is none/);
  assert.match(verdict(score), /10 of 12/);
  assert.doesNotMatch(verdict({ ...score, right: 12, chance: chanceOf(12, 12), heard: true }), /none/);
});

test("other lengths are refused, with what is allowed", () => {
  assert.throws(() => startBlind(11, (n) => new Uint8Array(n)), /got 11, allowed: 8, 10, 12, 16/);
});
