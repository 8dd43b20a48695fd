/** Hum of a room: what dsp renders, joined without a click, kept over flips, within the loudness. */

import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import test from "node:test";

import { BLOCK } from "../../web/js/player/bank.js";
import { Deck } from "../../web/js/player/deck.js";
import { FADE } from "../../web/js/player/fade.js";
import { readFrame } from "../../web/js/player/frames.js";
import { LOOK_AHEAD } from "../../web/js/player/guard.js";
import { addHum, chosenHum, humLufs, humOf, sameHum } from "../../web/js/player/hum.js";
import { SAME, bytes, cases, difference, stems } from "./player_help.js";

/** @param {string} name */
const read = (name) => JSON.parse(readFileSync(new URL(`reference/${name}`, import.meta.url), "utf8"));
/** Computed by dsp; see reference/make_hum_cases.py. */
const { record, areas, outputs, every, samples: count } = read("hum_cases.json");
const { chain } = read("chain_cases.json");
const { sweep } = cases;
const frames = sweep.frames.map((/** @type {string} */ text) => readFrame(bytes(text)));
const stage = humOf(record, { room: "stage", mains: 50 }, areas);
const take = stems(sweep.coils, 48_000),
  silence = take.map((stem) => stem.map(() => 0));
/** Everything is warmed by then. */
const READY = 60 * BLOCK;

/**
 * @param {Float32Array[]} heard @param {object} wish @param {object} [options]
 * @param {any[]} [messages]
 */
function readyDeck(heard, wish, options = { output: 1, loudest: 200 }, messages = []) {
  const deck = new Deck((message) => messages.push(message), options);
  deck.setChain(chain);
  deck.keep("take", heard);
  deck.ask({ key: "take", frame: frames[0], ...wish });
  run(deck, READY);
  deck.setPlaying(true);
  deck.play.jump(1);
  return deck;
}

/** @param {Deck} deck @param {number} n @param {(clock: number) => void} [before] */
function run(deck, n, before) {
  const out = new Float64Array(n),
    block = new Float64Array(BLOCK);
  for (let at = 0; at + BLOCK <= n; at += BLOCK) {
    before?.(at);
    deck.block(block, BLOCK);
    out.set(block, at);
  }
  return out;
}
const largest = (/** @type {ArrayLike<number>} */ all) =>
  Array.prototype.reduce.call(all, (a, v) => Math.max(Number(a), Math.abs(v)), 0);

for (const [name, want] of Object.entries(outputs))
  test(`the player adds the hum of ${name} Hz as dsp does`, () => {
    const [room, mains] = name.split(" "),
      hum = humOf(record, { room, mains: Number(mains) }, areas);
    // hum has always been there, and dsp begins: both have settled after a while
    const deck = readyDeck(take, { hum }),
      without = readyDeck(take, {});
    const [got, plain] = [deck, without].map((one) =>
      run(one, 95 * BLOCK)
        .subarray(LOOK_AHEAD)
        .filter((_, i) => i % every === 0 && i > (3 * count) / 4),
    );
    const dsp = want.filter(
        (/** @type {number} */ _, /** @type {number} */ i) => i * every > (3 * count) / 4,
      ),
      length = Math.min(dsp.length, got.length);
    assert.ok(length > 70);
    const off = difference(got.subarray(0, length), dsp.slice(0, length));
    assert.ok(off <= SAME, `${off}`);
    assert.ok(difference(plain.subarray(0, length), dsp.slice(0, length)) > 100 * SAME);
  });

test("hum comes and goes in a fade before the chain, and nothing else changes", () => {
  for (const way of ["direct", "driven"]) {
    const wish = { gainDb: -20, through: { way, loweredDb: 0 } };
    const made = readyDeck(take, { ...wish, hum: null });
    const ends = [100, 260].map((k) => k * BLOCK);
    const out = run(made, 420 * BLOCK, (clock) => {
      if (clock === ends[0]) made.ask({ key: "take", frame: frames[0], ...wish, hum: stage });
      if (clock === ends[1]) made.ask({ key: "take", frame: frames[0], ...wish, hum: null });
    });
    const always = run(readyDeck(take, { ...wish, hum: stage }), 420 * BLOCK),
      never = run(readyDeck(take, wish), 420 * BLOCK);
    const [on, off] = [always, never].map(
      (want) => (/** @type {number} */ from, /** @type {number} */ to) =>
        difference(out.subarray(from, to), want.subarray(from, to)),
    );
    const settled = FADE + 130 * BLOCK;
    assert.equal(off(0, ends[0]), 0);
    assert.ok(on(ends[0] + settled, ends[1]) <= 1e-6 * largest(always));
    assert.ok(on(ends[0] + settled, ends[1]) < off(ends[0] + settled, ends[1]) / 1000);
    assert.ok(off(ends[1] + settled, out.length - BLOCK) <= 1e-6 * largest(never));
  }
});

test("hum that comes in a pause of the take rises over 20 ms; one that were there at once would not", () => {
  const at = 40 * BLOCK,
    deck = readyDeck(silence, { hum: null });
  const out = run(deck, 120 * BLOCK, (clock) => {
    if (clock === at) deck.ask({ key: "take", frame: frames[0], hum: stage });
  });
  const begun = out.findIndex((v) => v !== 0),
    always = run(readyDeck(silence, { hum: stage }), 120 * BLOCK);
  const full = largest(out.subarray(at + 4 * FADE)),
    [risen, jumped] = [out, always].map((one) => largest(one.subarray(begun, begun + 48)));
  assert.ok(begun >= at && full > 1e-4);
  assert.ok(risen < 0.01 * full, `${risen / full} in the first millisecond`);
  assert.ok(jumped > 0.1 * full, `${jumped / full}`);
});

test("hum goes on over the end of a loop, a flip and another take, with one clock", () => {
  const deck = readyDeck(silence, { hum: stage, loop: [0, 9600] });
  deck.keep("other", silence);
  const out = run(deck, 300 * BLOCK, (clock) => {
    if (clock === 100 * BLOCK) deck.ask({ key: "other", frame: frames[0] });
    if (clock === 200 * BLOCK) deck.ask({ seek: 300 });
  });
  const period = stage.wave.length;
  for (let i = READY; i + period < out.length - BLOCK; i += 97)
    assert.ok(Math.abs(out[i] - out[i + period]) <= 1e-6 * largest(out), `${i}`);
  assert.ok(deck.voice?.tape.hum === stage);
});

test("the same hum again changes nothing, another room does", () => {
  /** @type {any[]} */
  const messages = [];
  const deck = readyDeck(take, { hum: stage }, undefined, messages),
    again = { ...stage, wave: Float64Array.from(stage.wave) };
  run(deck, 20 * BLOCK);
  messages.length = 0;
  deck.ask({ key: "take", frame: frames[0], hum: again });
  run(deck, 40 * BLOCK);
  assert.equal(messages.length, 0);
  const other = humOf(record, { room: "amplifier", mains: 50 }, areas);
  assert.ok(sameHum(stage, again) && !sameHum(stage, other) && !sameHum(stage, null));
  deck.ask({ key: "take", frame: frames[0], hum: other });
  run(deck, 40 * BLOCK);
  assert.equal(messages.length, 1);
});

test("how loud hum is follows from its partials, and a setting with much hum is not louder than allowed", () => {
  for (const way of ["direct", "clean"]) {
    const wish = { through: { way, loweredDb: 0 } };
    const deck = readyDeck(silence, { ...wish, hum: stage });
    const out = run(deck, 200 * BLOCK).subarray(100 * BLOCK),
      whole = out.subarray(0, Math.floor(out.length / 960) * 960);
    const power = whole.reduce((a, v) => a + v * v, 0) / whole.length;
    const path = /** @type {any} */ (deck.voice).path;
    const told = humLufs(stage, frames[0], 48_000, (hz) => path.gainAt(hz / 48_000));
    assert.ok(Math.abs(told - 10 * Math.log10(power)) < 0.01, `${way} ${told}`);
  }
  const huge = { ...stage, areas: areas.map((/** @type {number} */ area) => 1e4 * area) };
  const silent = { ...frames[0], matchGainDb: Infinity };
  const loud = readyDeck(silence, { frame: silent, hum: huge }, { output: 1, loudest: -40 });
  const heard = run(loud, 200 * BLOCK).subarray(100 * BLOCK);
  const lufs = 10 * Math.log10(heard.reduce((a, v) => a + v * v, 0) / heard.length);
  assert.ok(Math.abs(lufs + 40) < 0.2, `${lufs}`);
  assert.equal(humLufs(null, frames[0], 48_000), -Infinity);
});

test("a room that is not known is the first, and a clock before 0 is one too", () => {
  assert.equal(chosenHum(record, { room: "hall", mains: 16 }).name, record.rooms[0].name);
  const rows = [new Float64Array(1920), new Float64Array(1920)],
    two = { ...stage, areas: [1, -0.5] };
  addHum(two, -960, 1920, rows, 0);
  assert.ok(rows[0].every((v, i) => v === stage.wave[i % 960] && rows[1][i] === -0.5 * v));
});
