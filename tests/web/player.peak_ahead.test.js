import assert from "node:assert/strict";
import test from "node:test";

import { LOWERED } from "../../web/js/player/between.js";
import { noise, truePeak as measured } from "./player_help.js";

/** An automated gain as the Web Audio API's section 1.6 has it: values set, and lines to the next. */
class Gain {
  /** Whether `value` is the one set last, as in an engine where it does not follow what is planned. */
  static isStale = false;
  constructor(/** @type {{currentTime: number}} */ context, { gain } = { gain: 1 }) {
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
const { capOf, createCap } = await import("../../web/js/player/peak_ahead.js");
const { ramp } = await import("../../web/js/player/gain_plan.js");
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

/** @param {import("node:test").TestContext} t */
function beStale(t) {
  Gain.isStale = true;
  t.after(() => (Gain.isStale = false));
}

test("an engine whose gains do not tell where they stand is as safe", (t) => {
  beStale(t);
  for (const settled of [0.3, 1.985, 2.1]) assert.ok(isSafe(play([[settled, (cap) => cap.settle(3)]])));
  for (const turned of [0.5, 1.97, 1.99, 2.2])
    assert.ok(
      isSafe(
        play([
          [0.3, (cap) => cap.settle(3)],
          [turned, (cap) => cap.setLevel(8)],
        ]),
      ),
    );
});

for (const stale of [false, true])
  test(`a level that is turned never jumps${stale ? ", nor where gains do not tell where they stand" : ""}`, (t) => {
    if (stale) beStale(t);
    const gains = play([
      [0.3, (cap) => cap.settle(3)],
      [0.6, (cap) => cap.setLevel(0.05)],
      [0.605, (cap) => cap.setLevel(0.2)],
      [1, (cap) => cap.setLevel(8)],
      [1.5, (cap) => cap.setLevel(0.1)],
    ]);
    const most = LOWERED / 1.5 / 0.02; // the steepest line falls over a ramp's 20 ms
    gains.slice(1).forEach(({ time, gain }, k) => {
      assert.ok(Math.abs(gain - gains[k].gain) <= most * (time - gains[k].time) + 1e-9, `at ${time} s`);
    });
    assert.ok(Math.abs(at(gains, 0.9) - 0.2) < 1e-12);
    assert.ok(Math.abs(at(gains, 1.2) - LOWERED / 3) < 1e-12);
    assert.ok(Math.abs(at(gains, 2) - 0.1) < 1e-12);
  });

for (const stale of [false, true])
  test(`a gain goes on from where it stands${stale ? ", if it does not tell that either" : ""}`, (t) => {
    if (stale) beStale(t);
    const context = { currentTime: 1 },
      node = /** @type {any} */ (new Gain(context, { gain: 0 }));
    ramp(node, 1, 0);
    context.currentTime = 2;
    ramp(node, 0.5, 0.1);
    context.currentTime = 2.05;
    assert.ok(Math.abs(node.at(2.05) - 0.75) < 1e-12);
    ramp(node, 1, 0.1);
    for (const [time, gain] of [
      [2.05, 0.75],
      [2.1, 0.875],
      [2.2, 1],
      [9, 1],
    ])
      assert.ok(Math.abs(node.at(time) - gain) < 1e-12, `at ${time} s`);
  });

test("a measure that comes late lets nothing sound until the next one", () => {
  const context = { currentTime: 3 },
    cap = createCap(/** @type {any} */ (context), 1, 1.5, UNTIL),
    node = /** @type {any} */ (cap.node);
  for (const time of [3, 3.5, 10]) assert.equal(node.at(time), 0);
  cap.settle(3, 6);
  assert.ok(Math.abs(node.at(4) - LOWERED / 3) < 1e-12);
  assert.equal(node.at(6), 0);
});

test("a soft voice plays at the level that is wanted", () => {
  const cap = createCap(/** @type {any} */ ({ currentTime: 0 }), 0.5, 0.1);
  assert.equal(/** @type {any} */ (cap.node).at(1), 0.5);
});

const RATE = 48_000;
/** Where the loop's peak is 0.5; elsewhere it is 0.1. Of 20 s. */
const LOUD_S = 13;
/**
 * Measure and play a loop of 20 s. Each render takes some time of the clock.
 * @param {(k: number) => number} takes seconds, of the first, second, … render
 * @param {(cap: ReturnType<typeof createCap>, pieces: {from: number, seconds: number}[]) => void} [begun]
 * @param {() => boolean} [goesOn]
 */
async function measureAhead(takes, begun = () => {}, goesOn = () => true) {
  const context = { currentTime: 5, sampleRate: RATE },
    /** @type {{from: number, seconds: number}[]} */
    pieces = [];
  class Part {
    numberOfInputs = 1;
    constructor(/** @type {any} */ owner) {
      this.owner = owner;
    }
    connect(/** @type {any} */ to) {
      return to;
    }
    copyToChannel() {}
    start(/** @type {number} */ _, /** @type {number} */ from) {
      this.owner.from = (Math.round((from + TAPS / RATE) * RATE) % (20 * RATE)) / RATE;
    }
  }
  class Offline {
    from = 0;
    constructor(/** @type {number} */ _, /** @type {number} */ length) {
      this.length = length;
    }
    async startRendering() {
      const seconds = (this.length - TAPS) / RATE,
        samples = new Float32Array(this.length),
        loud = Math.round((LOUD_S - this.from) * RATE);
      context.currentTime += takes(pieces.length);
      pieces.push({ from: this.from, seconds });
      samples[TAPS + 100] = 0.1;
      if (loud >= 0 && loud < this.length - TAPS) samples[TAPS + loud] = 0.5;
      await new Promise((done) => setImmediate(done));
      return { getChannelData: () => samples };
    }
  }
  const nodes = ["AudioBufferSourceNode", "ChannelSplitterNode", "ConvolverNode", "AudioBuffer"];
  Object.assign(globalThis, { OfflineAudioContext: Offline }, ...nodes.map((name) => ({ [name]: Part })));
  /** @type {any} */ (Gain.prototype).connect = (/** @type {any} */ to) => to;
  const loop = {
    stems: { duration: 20, numberOfChannels: 1 },
    heard: [0],
    filters: [new Float32Array(TAPS)],
  };
  const cap = await capOf(/** @type {any} */ (context), /** @type {any} */ (loop), 0, () => 8, goesOn);
  begun(cap, pieces);
  const before = pieces.length,
    gain = () => /** @type {any} */ (cap.node).at(context.currentTime),
    first = { gain: gain(), end: /** @type {any} */ (cap.node).at(context.currentTime + 30) };
  for (let turn = 0; turn < 30; turn++) await new Promise((done) => setImmediate(done));
  return { cap, context, pieces, before, first };
}
const TAPS = 128;
/** That each piece follows the one before it. @param {{from: number, seconds: number}[]} pieces */
const isWithoutGap = (pieces) =>
  pieces.slice(1).every(({ from }, k) => {
    const over = pieces[k].from + pieces[k].seconds - from;
    return over > 8 / RATE && over < 0.01; // values between samples reach over eight of them
  });

test("the rest is measured by pieces, and the gain follows them", async () => {
  const { cap, pieces, before, first, context } = await measureAhead(() => 0.2);
  assert.equal(before <= 2, true);
  assert.ok(pieces.every(({ seconds }) => seconds < 4.1));
  assert.ok(isWithoutGap(pieces));
  assert.ok(Math.abs(pieces.reduce((sum, { seconds }) => sum + seconds - 0.005, 0) - 20) < 0.01);
  assert.ok(Math.abs(first.gain - 8) < 1e-12);
  assert.equal(first.end, 0, "only a part of it is measured");
  const node = /** @type {any} */ (cap.node);
  assert.ok(Math.abs(node.at(context.currentTime + 30) - LOWERED / 0.5) < 1e-12);
});

test("a voice that has left is measured no further", async () => {
  const { pieces, before } = await measureAhead(
    () => 0.2,
    (cap) => (cap.ended = true),
  );
  assert.ok(before <= 2);
  assert.equal(pieces.length, before);
});

test("a voice begins only once its measure is ahead of the music", async () => {
  const { pieces, first, before } = await measureAhead((k) => (k === 0 ? 3 : 0.1));
  assert.ok(isWithoutGap(pieces));
  assert.ok(before >= 2 && pieces[1].from < 2.01);
  assert.ok(first.gain > 0, "nothing sounds although it is measured");
});

test("where a measure takes longer than the music, the whole loop is measured first", async () => {
  const { pieces, first, before } = await measureAhead((k) => 10 + k);
  assert.equal(pieces.length, before);
  assert.ok(pieces.reduce((sum, { seconds }) => sum + seconds, 0) >= 20);
  assert.ok(Math.abs(first.gain - LOWERED / 0.5) < 1e-12);
  assert.ok(Math.abs(first.end - LOWERED / 0.5) < 1e-12);
});

test("a voice that is not wanted any more is not measured on", async () => {
  const { before } = await measureAhead(
    () => 3,
    (cap) => (cap.ended = true),
    () => false,
  );
  assert.ok(before <= 2, `${before} renders`);
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
