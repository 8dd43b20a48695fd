import assert from "node:assert/strict";
import test from "node:test";

import { LOWERED } from "../../web/js/player/between.js";
import { noise, truePeak as measured } from "./player_help.js";

/** An automated gain as the Web Audio API's section 1.6 has it: values set, and lines to the next. */
class Gain {
  /** Whether `value` is the one set last, as in an engine where it does not follow what is planned. */
  static isStale = false;
  constructor(/** @type {{currentTime: number}} */ context, { gain }) {
    this.context = context;
    /** @type {{time: number, value: number, line: boolean}[]} */
    this.events = [];
    this.first = gain;
  }
  get gain() {
    return this;
  }
  set value(/** @type {number} */ value) {
    this.first = value;
  }
  get value() {
    return Gain.isStale ? this.first : this.at(this.context.currentTime);
  }
  cancelScheduledValues(/** @type {number} */ from) {
    this.events = this.events.filter(({ time }) => time < from);
  }
  setValueAtTime(/** @type {number} */ value, /** @type {number} */ time) {
    this.events.push({ time, value, line: false });
  }
  linearRampToValueAtTime(/** @type {number} */ value, /** @type {number} */ time) {
    this.events.push({ time, value, line: true });
  }
  at(/** @type {number} */ time) {
    const k = this.events.findLastIndex((one) => one.time <= time),
      before = this.events[k] ?? { time: 0, value: this.first },
      next = this.events[k + 1];
    if (!next?.line) return before.value;
    return before.value + ((next.value - before.value) * (time - before.time)) / (next.time - before.time);
  }
}
Object.assign(globalThis, { GainNode: Gain });
const { createCap } = await import("../../web/js/player/peak_ahead.js");
const { truePeak } = await import("../../web/js/player/true_peak.js");

const UNTIL = 2;
/**
 * Play 4 s: until `UNTIL` peaks reach 1.5, then 3. Acts happen on the clock's blocks.
 * @param {[number, (cap: ReturnType<typeof createCap>) => void][]} acts
 */
function play(acts) {
  const context = { currentTime: 0 },
    cap = createCap(/** @type {any} */ (context), 1, 1.5, UNTIL),
    node = /** @type {any} */ (cap.node),
    gains = [];
  for (let time = 0; time < 4; time += 128 / 48000) {
    context.currentTime = time;
    for (const act of acts.filter(([at]) => at <= time)) act[1](cap);
    acts = acts.filter(([at]) => at > time);
    gains.push({ time, gain: node.at(time) });
  }
  return gains;
}
const isSafe = (/** @type {{time: number, gain: number}[]} */ gains) =>
  gains.every(({ time, gain }) => gain * (time < UNTIL ? 1.5 : 3) <= LOWERED * (1 + 1e-9));
const at = (/** @type {{time: number, gain: number}[]} */ gains, /** @type {number} */ time) =>
  gains.find((one) => one.time >= time)?.gain ?? NaN;

test("what is not measured is silent", () => {
  const gains = play([]);
  assert.ok(isSafe(gains));
  assert.ok(Math.abs(at(gains, 1) - LOWERED / 1.5) < 1e-12);
  assert.equal(at(gains, UNTIL), 0);
  assert.equal(at(gains, 3.9), 0);
});

for (const settled of [0.3, 1.9, 1.97, 1.985, 1.999, 2.1])
  test(`the rest measured at ${settled} s is below the ceiling and heard`, () => {
    const gains = play([[settled, (cap) => cap.settle(3)]]);
    assert.ok(isSafe(gains));
    assert.ok(Math.abs(at(gains, 2.3) - LOWERED / 3) < 1e-12);
  });

for (const turned of [0.5, 1.97, 1.99, 2.2])
  test(`a level turned up at ${turned} s changes nothing about that`, () => {
    const up = (/** @type {{setLevel: (wanted: number) => void}} */ cap) => cap.setLevel(8);
    assert.ok(isSafe(play([[turned, up]])));
    const gains = play([
      [turned, up],
      [turned + 0.01, (cap) => cap.settle(3)],
    ]);
    assert.ok(isSafe(gains));
    assert.ok(Math.abs(at(gains, 2.4) - LOWERED / 3) < 1e-12);
  });

test("an engine whose gains do not tell where they stand is as safe", (t) => {
  Gain.isStale = true;
  t.after(() => (Gain.isStale = false));
  for (const settled of [0.3, 1.985, 2.1]) assert.ok(isSafe(play([[settled, (cap) => cap.settle(3)]])));
});

test("a soft voice plays at the level that is wanted", () => {
  const cap = createCap(/** @type {any} */ ({ currentTime: 0 }), 0.5, 0.1);
  assert.equal(/** @type {any} */ (cap.node).at(1), 0.5);
});

/** Noise that falls from 5 kHz on, as what leaves a guitar does. @param {number} seed */
function dull(seed) {
  let samples = Float64Array.from(noise(seed, 6000), (value, i) => value * Math.sin(i / 700) ** 4);
  for (let round = 0; round < 4; round++) samples = samples.map((value, i) => value + (samples[i - 1] ?? 0));
  return Float32Array.from(samples);
}

test("the true peak of samples, soft and loud stretches alike", () => {
  for (const seed of [3, 4, 5]) {
    const samples = dull(seed),
      off = truePeak(samples) / measured(samples);
    assert.ok(Math.abs(20 * Math.log10(off)) < 0.15, `${20 * Math.log10(off)} dB`);
  }
  assert.equal(truePeak(new Float32Array(100)), 0);
  const tone = Float32Array.from({ length: 960 }, (_, i) => Math.sin((Math.PI / 2) * i + Math.PI / 4));
  assert.ok(truePeak(tone) > 0.99 && Math.max(...tone) < 0.71);
});
