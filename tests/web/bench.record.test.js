import assert from "node:assert/strict";
import test from "node:test";

import {
  isSilent,
  judge,
  processingWords,
  refusalWords,
  verdictWords,
} from "../../web/js/player/record_words.js";
import { encodeWav } from "../../web/js/player/wav.js";

const tone = (/** @type {number} */ size) =>
  Float32Array.from({ length: 4800 }, (_, i) => Math.max(-1, Math.min(1, size * Math.sin(i / 20))));

test("a file of 24-bit samples, as RIFF WAVE has them", () => {
  const view = new DataView(encodeWav(Float32Array.of(0, 1, -1, 0.5, 2), 44100));
  const text = (/** @type {number} */ at) => String.fromCharCode(...new Uint8Array(view.buffer, at, 4));
  assert.deepEqual([text(0), text(8), text(12), text(36)], ["RIFF", "WAVE", "fmt ", "data"]);
  assert.equal(view.getUint32(4, true), view.byteLength - 8);
  assert.deepEqual(
    [20, 22, 32, 34].map((at) => view.getUint16(at, true)),
    [1, 1, 3, 24],
  );
  assert.deepEqual(
    [16, 24, 28, 40].map((at) => view.getUint32(at, true)),
    [16, 44100, 132300, 15],
  );
  const values = [0, 1, 2, 3, 4].map(
    (k) => view.getUint16(44 + 3 * k, true) + (view.getInt8(46 + 3 * k) << 16),
  );
  assert.deepEqual(values, [0, 8388607, -8388607, 4194304, 8388607]);
  assert.equal(view.byteLength, 44 + 16, "an odd chunk is padded");
});

test("silent, soft, loud and cut off are told apart", () => {
  assert.ok(isSilent(judge(new Float32Array(100))));
  assert.ok(isSilent(judge(tone(0.0009))) && !isSilent(judge(tone(0.0011))));
  assert.match(verdictWords(judge(tone(0.02))), /−34 dB of full scale: noise/);
  assert.equal(verdictWords(judge(tone(0.5))), "The loudest place is −6 dB of full scale.");
  assert.equal(judge(tone(1)).cut, judge(tone(0.999)).cut);
  const { cut } = judge(tone(2));
  assert.equal(cut, 2 * Math.floor(4800 / (40 * Math.PI)) + 1, "each half wave");
  assert.match(verdictWords(judge(tone(2))), /cut off the sound in \d+ places/);
});

test("a browser that goes on changing the sound is named", () => {
  const off = { echoCancellation: false, noiseSuppression: false, autoGainControl: false };
  assert.equal(processingWords(off), "");
  assert.match(processingWords({ ...off, autoGainControl: true }), /switch off its automatic gain:/);
  assert.match(processingWords({}), /does not tell whether its echo cancellation, noise/);
  assert.match(processingWords({}, "Listen later."), /is off\. Listen later\.$/);
});

test("refusals in words", () => {
  for (const [name, words] of [
    ["NotAllowedError", /Allow the microphone/],
    ["NotFoundError", /has no input/],
    ["NotReadableError", /another program/],
  ])
    assert.match(refusalWords(new DOMException("?", String(name))), /** @type {RegExp} */ (words));
  assert.equal(refusalWords(new Error("odd")), "The input does not open: odd.");
});
