import assert from "node:assert/strict";
import test from "node:test";

import { LOWERED } from "../../web/js/player/between.js";

/** Peaks of two takes: the first needs its gain lowered, the second does not. */
const LOUD = 1.5,
  SOFT = 0.1;
/** Longer than a take needs to fade out, ms. */
const LATER_MS = 1000;

/** The target of a gain's newest line. */
class Gain {
  /** @type {Gain[]} */
  static made = [];
  constructor(/** @type {{currentTime: number}} */ context, { gain } = { gain: 1 }) {
    this.context = context;
    this.value = gain;
    Gain.made.push(this);
  }
  get gain() {
    return this;
  }
  connect(/** @type {any} */ to) {
    return to;
  }
  cancelScheduledValues() {}
  setValueAtTime() {}
  setValueCurveAtTime() {}
  linearRampToValueAtTime(/** @type {number} */ value) {
    this.value = value;
  }
}
class Source extends Gain {
  start() {}
  stop() {}
}
/** Bytes are a take's peak. */
class Offline {
  async decodeAudioData(/** @type {ArrayBuffer} */ bytes) {
    const samples = new Float32Array(100);
    samples[50] = new Float32Array(bytes)[0];
    return { length: samples.length, getChannelData: () => samples };
  }
}
class Analyser extends Gain {
  fftSize = 32;
}
Object.assign(globalThis, {
  self: globalThis,
  AudioContext: class {},
  GainNode: Gain,
  AudioBufferSourceNode: Source,
  AnalyserNode: Analyser,
  OfflineAudioContext: Offline,
});
const { createClips } = await import("../../web/js/player/clips.js");

/** Let promises settle. */
const settle = async () => {
  for (let turn = 0; turn < 20; turn++) await null;
};

/**
 * Clips without a guard that play at full level, and the gain of that level.
 * @param {import("node:test").TestContext} t
 * @param {(file: string) => Promise<unknown>} come  when a file is there
 */
async function playing(t, come) {
  t.mock.timers.enable({ apis: ["setTimeout"] });
  const context = { currentTime: 1, sampleRate: 48_000, destination: {}, addEventListener() {} };
  Gain.made = [];
  const clips = createClips({
    context: () => /** @type {any} */ (context),
    guard: async () => null,
    source: (file) => come(file).then(() => Float32Array.of(file === "loud" ? LOUD : SOFT).buffer),
  });
  clips.setOutput(1);
  await clips.play();
  const [out] = Gain.made;
  /** @param {string} key */
  const choose = (key) => clips.choose({ key, files: [key] }, 0, true);
  /** Whether the loud take's peaks stay below the ceiling, whatever the level. */
  const isLimited = () => {
    clips.setOutput(1);
    return Math.abs(out.value - LOWERED / LOUD) < 1e-6;
  };
  return { out, choose, isLimited };
}

test("without a guard a take keeps its limit until the next one sounds", async (t) => {
  let come = () => {};
  const late = new Promise((resolve) => (come = () => resolve(undefined)));
  const { out, choose, isLimited } = await playing(t, async (file) => file === "soft" && late);
  await choose("loud");
  t.mock.timers.tick(LATER_MS);
  assert.ok(isLimited());
  const soft = choose("soft");
  await settle();
  t.mock.timers.tick(LATER_MS);
  assert.ok(isLimited(), "the loud take plays on, and above the ceiling");
  come();
  await soft;
  assert.ok(isLimited(), "it still fades out");
  t.mock.timers.tick(LATER_MS);
  assert.equal(out.value, 1);
});

test("a take that leaves soon after another fades out below the ceiling too", async (t) => {
  const { choose, isLimited } = await playing(t, async () => undefined);
  await choose("soft");
  t.mock.timers.tick(100); // of the 140 ms after which nothing of the take before sounds
  await choose("loud");
  await choose("softer");
  t.mock.timers.tick(100);
  assert.ok(isLimited());
});
