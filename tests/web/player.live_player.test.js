import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import test from "node:test";

import { readModel } from "../../web/js/player/live_model.js";
import { bytes } from "./player_help.js";

/** A setting computed by dsp; see reference/make_live_cases.py. */
const { cases } = JSON.parse(readFileSync(new URL("reference/live_cases.json", import.meta.url), "utf8"));
const model = readModel(bytes(cases[0].model));
const RATE = 48_000;
/** Samples of the check of the browser's convolver: these renders are none of a voice. */
const CHECK = 9600;

/** @type {Gain[]} */
let gains = [];
/** @type {((failed?: Error) => void)[]} The renders under way. */
let renders = [];

class Part {
  numberOfInputs = 1;
  constructor(/** @type {any} */ owner, { buffer = /** @type {any} */ (null) } = {}) {
    if (buffer && owner) owner.buffer ??= buffer;
  }
  connect(/** @type {any} */ to) {
    return to;
  }
  disconnect() {}
  start() {}
  stop() {}
  getFloatTimeDomainData() {}
}
class Gain extends Part {
  /** Of curves: whether each rises. @type {boolean[]} */
  curves = [];
  value = 0;
  left = false;
  constructor(/** @type {any} */ context) {
    super(context);
    this.context = context;
    gains.push(this);
  }
  get gain() {
    return this;
  }
  disconnect() {
    this.left = true;
  }
  cancelScheduledValues() {}
  setValueAtTime() {}
  linearRampToValueAtTime() {}
  setValueCurveAtTime(/** @type {Float32Array} */ curve) {
    this.curves.push(curve[0] < curve[curve.length - 1]);
  }
}
class FakeBuffer {
  constructor({ length = 0 }) {
    this.samples = new Float32Array(length);
  }
  copyToChannel(/** @type {Float32Array} */ samples) {
    this.samples.set(samples);
  }
}
/** What it renders is its source, unchanged. */
class Offline {
  /** @type {FakeBuffer | undefined} */
  buffer;
  constructor(/** @type {number} */ _, /** @type {number} */ length) {
    this.length = length;
  }
  async startRendering() {
    if (this.length !== CHECK)
      await new Promise((resolve, reject) =>
        renders.push((failed) => (failed ? reject(failed) : resolve(undefined))),
      );
    return { getChannelData: () => this.buffer?.samples ?? new Float32Array(this.length) };
  }
}
Object.assign(globalThis, {
  self: globalThis,
  AudioContext: class {},
  GainNode: Gain,
  AudioBuffer: FakeBuffer,
  OfflineAudioContext: Offline,
  ...Object.fromEntries(
    ["Analyser", "AudioBufferSource", "ChannelSplitter", "Convolver", "WaveShaper"].map((name) => [
      `${name}Node`,
      Part,
    ]),
  ),
});
const { createLivePlayer } = await import("../../web/js/player/live_player.js");

/** Let promises, and the waits that the player has begun, settle. */
const settle = async () => {
  for (let turn = 0; turn < 20; turn++) await new Promise((done) => setImmediate(done));
};

/** A player over plain http, and the settings that it says sound. @param {object} [more] options */
function made(more = {}) {
  gains = [];
  renders = [];
  const context = { currentTime: 1, sampleRate: RATE, destination: {}, addEventListener() {} },
    /** @type {number[]} */
    applied = [];
  const player = createLivePlayer({
    context: () => /** @type {any} */ (context),
    guard: async () => null,
    wait(_, seconds, then) {
      const timer = setImmediate(() => {
        context.currentTime += seconds;
        then();
      });
      return () => clearImmediate(timer);
    },
    onApplied: (id) => applied.push(id),
    ...more,
  });
  const stems = {
    duration: 1,
    length: RATE,
    numberOfChannels: model.coils.length,
    getChannelData: () => new Float32Array(RATE),
  };
  /** @param {number} id @param {() => Promise<boolean>} [bend] */
  const use = (id, bend) =>
    player.use({
      id,
      stems: /** @type {any} */ (stems),
      gain: () => 1,
      model,
      knobs: { ...cases[0].knobs },
      bend,
    });
  /** Voices that have begun and have neither faded nor been taken away. */
  const sounding = () =>
    gains.filter(({ curves, left }) => curves.length > 0 && curves.every(Boolean) && !left).length;
  return { player, use, applied, sounding };
}

test("play, pause and play while a voice is measured: one voice sounds, and is told of once", async () => {
  const { player, use, applied, sounding } = made();
  use(1);
  void player.play();
  await settle();
  assert.equal(renders.length, 1, "the voice is measured before it sounds");
  player.pause();
  void player.play();
  await settle();
  assert.equal(renders.length, 2);
  for (const [k, render] of [...renders].entries()) {
    render();
    await settle();
    assert.equal(sounding(), k, "only the second is still wanted");
  }
  assert.deepEqual(applied, [1]);
});

test("a measure that fails is told, and the next setting sounds", async () => {
  const { player, use, applied, sounding } = made();
  use(1);
  const begun = player.play();
  begun.catch(() => {});
  await settle();
  renders[0](new Error("no memory"));
  await assert.rejects(begun, /no memory/);
  use(2);
  await settle();
  renders[1]?.();
  await settle();
  assert.deepEqual(applied, [2]);
  assert.equal(sounding(), 1);
});

test("a knob that is turned fades from one voice to the next", async () => {
  const { player, use, applied, sounding } = made();
  use(1);
  void player.play();
  await settle();
  renders[0]();
  await settle();
  use(2);
  await settle();
  renders[1]();
  await settle();
  assert.deepEqual(applied, [1, 2]);
  assert.equal(sounding(), 1);
});

test("a loop is computed once: another place and a pause need none anew", async () => {
  const places = [0.25];
  const { player, applied, sounding, use } = made({ takeFrom: () => places.pop() ?? null });
  let bent = 0;
  const bend = async () => {
    bent += 1;
    return true;
  };
  /** @param {number} id */
  const turn = async (id) => {
    use(id, bend);
    // the knobs rest
    await new Promise((done) => setTimeout(done, 200));
    for (let k = 0; k < 20; k++) {
      for (const render of renders.splice(0)) render();
      await settle();
    }
  };
  void player.play();
  await settle();
  await turn(1);
  assert.deepEqual([bent, applied, sounding()], [1, [1], 1]);
  assert.ok(Math.abs(player.position() - 0.25) < 0.1, "from where the other sound was");
  player.seek(0.5);
  await settle();
  player.pause();
  void player.play();
  await settle();
  assert.deepEqual([bent, applied], [1, [1, 1, 1]]);
  await turn(2);
  assert.equal(bent, 2);
  player.pause();
});
