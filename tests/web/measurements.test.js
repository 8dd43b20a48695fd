/** What is said of recordings and values, the plot of an impedance, the file that a page records. */

import assert from "node:assert/strict";
import { test } from "node:test";

import { press, settle } from "./page_help.js";
import { impedanceText, layOutImpedance, polar, shortOhm } from "../../web/js/measurements/plot.js";
import { record, refusalOf, wavFile } from "../../web/js/measurements/record.js";
import { filePlace } from "../../web/js/measurements/steps.js";
import { lossText, nameFor, orderText, withinText } from "../../web/js/measurements/words.js";
import { recordingText } from "../../web/js/shared/recordings.js";

const TOLD = {
  name: "coil.wav",
  came: "2026-11-03T10:00:00Z",
  signal: "lines",
  frequencies: 119,
  level_dbfs: -22,
  hum_dbfs: -60,
};

test("a recording is told with its level and hum, and what would make it surer", () => {
  assert.deepEqual(recordingText(TOLD), { text: "119 lines of a tone, level -22 dB, hum -60 dB", warn: "" });
  assert.match(recordingText({ ...TOLD, hum_dbfs: -40 }).warn, /^Much hum/);
  assert.match(recordingText({ ...TOLD, level_dbfs: -50, hum_dbfs: -90 }).warn, /^Quiet/);
  assert.match(recordingText({ ...TOLD, level_dbfs: -4 }).warn, /^Loud/);
  const noise = recordingText({ ...TOLD, signal: "bands", frequencies: 200, hum_dbfs: null });
  assert.deepEqual(noise, { text: "noise or a sweep, 200 bands, level -22 dB", warn: "" });
});

test("an interval is told by its wider half", () => {
  assert.equal(withinText(100, [99.6, 100.5]), "± 0.50 %");
  assert.equal(withinText(100, [50, 120]), "± 50 %");
});

test("losses are counted in words, with the error of the response where a curve was read", () => {
  assert.equal(orderText({ order: 0 }), "Found with no eddy loss.");
  assert.match(orderText({ order: 2, response_error_db: 0.034 }), /two eddy losses.* within 0\.03 dB\.$/);
});

test("a name for an own coil needs no quotes in a wiring file", () => {
  assert.equal(nameFor("bridge a"), "our_bridge_a");
  assert.equal(nameFor("x".repeat(90)).length, 60);
});

const MODEL = { frequencies_hz: [20, 1000, 20_000], real: [6200, 6200, 0], imag: [0, 6200, -90_000] };

test("an impedance is plotted by decades of ohms, and its phase below", () => {
  assert.deepEqual(
    polar(MODEL).map(({ degrees }) => Math.round(degrees)),
    [0, 45, -90],
  );
  const { texts, size, phase } = layOutImpedance(MODEL, MODEL);
  const words = texts.map(({ text }) => text);
  for (const text of ["1 kΩ", "10 kΩ", "100 kΩ", "−90°", "1 k"]) assert.ok(words.includes(text), text);
  assert.equal(size.dots.length, 3);
  assert.ok(size.dots[2].cy < size.dots[0].cy, "larger is higher");
  assert.ok(phase.dots[2].cy > phase.dots[0].cy, "a negative phase is lower");
  assert.equal(size.path.split("L").length, 3);
  assert.equal(layOutImpedance(null, MODEL).size.dots.length, 0);
});

test("the curve is told in a sentence", () => {
  assert.equal(shortOhm(99_870), "99.87 kΩ");
  assert.match(impedanceText(MODEL), /6\.2 kΩ at 20Hz, at most 90 kΩ at 20 kHz\./);
});

test("a stream that is processed or has one channel is refused in words", () => {
  assert.equal(refusalOf({ channelCount: 2, echoCancellation: false }), "");
  assert.equal(refusalOf({}), "", "a browser that tells nothing is judged by what it records");
  assert.match(refusalOf({ channelCount: 1 }), /one channel/);
  assert.match(refusalOf({ channelCount: 2, autoGainControl: true }), /does not let the page/);
});

test("a recorded file has both channels, sample by sample", async () => {
  const file = wavFile([[Float32Array.of(0.5, -0.5), Float32Array.of(0.25, 1)]], 48_000, "coil.wav");
  const view = new DataView(await file.arrayBuffer());
  const word = (at) => String.fromCharCode(...new Uint8Array(view.buffer, at, 4));
  assert.deepEqual([word(0), word(8), word(12), word(36)], ["RIFF", "WAVE", "fmt ", "data"]);
  assert.deepEqual(
    [view.getUint16(20, true), view.getUint16(22, true), view.getUint32(24, true)],
    [3, 2, 48_000],
  );
  assert.deepEqual(
    [44, 48, 52, 56].map((at) => view.getFloat32(at, true)),
    [0.5, 0.25, -0.5, 1],
  );
  assert.equal(view.byteLength, 60);
});

/** An interface with two inputs, of which a test says what it sends. */
function plugIn() {
  const track = { stop: () => void (plugged.open = false), getSettings: () => ({ channelCount: 2 }) },
    plugged = { open: true, track, node: { port: {}, connect: () => undefined } };
  const stream = { getAudioTracks: () => [track], getTracks: () => [track] };
  Object.defineProperty(globalThis, "navigator", {
    configurable: true,
    value: { mediaDevices: { getUserMedia: async () => stream } },
  });
  globalThis.AudioWorkletNode = function () {
    return plugged.node;
  };
  globalThis.AudioContext = class {
    sampleRate = 1000;
    audioWorklet = { addModule: async () => {} };
    createMediaStreamSource = () => ({ connect: (node) => node, disconnect() {} });
    resume = async () => {};
    close = async () => void (plugged.closed = true);
  };
  return plugged;
}
test("both inputs are recorded, and the interface is let go", async () => {
  const plugged = plugIn(),
    coming = record("coil", new AbortController().signal);
  await settle();
  plugged.node.port.onmessage({ data: [new Float32Array(6000), new Float32Array(6000)] });
  assert.equal((await coming).size, 44 + 8 * 6000);
  assert.deepEqual([plugged.open, plugged.closed], [false, true]);
});

test("an input that goes, or sends nothing, ends the recording in words", async (t) => {
  t.mock.timers.enable({ apis: ["setTimeout"] });
  for (const [fails, words] of [
    [(plugged) => plugged.track.onended(), /^Error: The input has gone/],
    [() => t.mock.timers.tick(16_000), /^Error: The input sends no sound/],
  ]) {
    const plugged = plugIn(),
      coming = record("coil", new AbortController().signal);
    coming.catch(() => undefined);
    await settle();
    fails(plugged);
    await assert.rejects(coming, words);
    assert.deepEqual([plugged.open, plugged.closed], [false, true]);
  }
});

test("a dialog that was closed while the browser asked records nothing", async () => {
  const plugged = plugIn();
  await assert.rejects(record("coil", AbortSignal.abort()), { name: "AbortError" });
  assert.equal(plugged.open, false);
});

test("what goes with a recording of the rig is told, and only there", () => {
  for (const step of ["open", "short", "known"]) assert.match(lossText(step), /results of all of them/);
  assert.equal(lossText("coil"), "");
});

test("a recording of the rig is not thrown away without asking, the coil's own is", async () => {
  plugIn();
  const asked = [],
    { body } = globalThis.document,
    signal = new AbortController().signal;
  globalThis.fetch = async (path) => {
    asked.push(new URL(path, "http://localhost").searchParams.get("step"));
    return { ok: true, status: 200, json: async () => ({}) };
  };
  const place = (step, title) => {
    const made = filePlace({ where: {}, step, title, about: "", accept: "", came() {}, signal });
    made.update(TOLD);
    body.replaceChildren(made.element);
    press(body, "Throw away");
  };
  place("open", "Open");
  assert.deepEqual(asked, []);
  press(body, "Go back");
  assert.deepEqual(asked, []);
  press(body, "Throw away");
  press(body, "Throw it away");
  place("coil", "The coil");
  await settle();
  assert.deepEqual(asked, ["open", "coil"]);
});
