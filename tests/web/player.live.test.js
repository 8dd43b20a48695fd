import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import test from "node:test";

import { Fourier } from "../../web/js/player/fft.js";
import { FIR_DELAY, FIR_TAPS, createFirMaker } from "../../web/js/player/live_fir.js";
import { loudnessOf, turnedGain } from "../../web/js/player/live_level.js";
import { readModel, valuesAt } from "../../web/js/player/live_model.js";
import { renderLoop } from "../../web/js/player/live_voice.js";
import { Convolution } from "../../web/js/player/partitions.js";
import { bytes, difference, noise } from "./player_help.js";

/** Cases computed by dsp; see reference/make_live_cases.py. */
const { hz, every, cases } = JSON.parse(
  readFileSync(new URL("reference/live_cases.json", import.meta.url), "utf8"),
);
const RATE = 48_000;
/** Bars of the live voice: its model at its own frequencies, and its filters everywhere, dB. */
const MODEL_DB = 1e-3,
  CURVE_DB = 0.05;
/** The curve's bar holds within this of the setting's peak. */
const DEPTH = 0.01;

/** @param {number} a @param {number} b */
const size = (a, b) => Math.hypot(a, b);
/** @param {number} got @param {number} want */
const apartDb = (got, want) => Math.abs(20 * Math.log10(got / want));
const models = cases.map((/** @type {any} */ one) => readModel(bytes(one.model)));

/** The largest value of all coils. @param {{re: number[][], im: number[][]}} all */
const peakOf = ({ re, im }) => Math.max(...re.flatMap((row, k) => row.map((a, i) => size(a, im[k][i]))));

/**
 * Calls a function for every setting of every case.
 * @param {(one: any, model: any, at: any) => void} check
 */
function everySetting(check) {
  cases.forEach((/** @type {any} */ one, /** @type {number} */ i) => {
    for (const at of one.settings) check(one, models[i], at);
  });
}

test("a model has dsp's responses at its own frequencies", () => {
  everySetting((one, model, at) => {
    const { heard, rows } = valuesAt(model, at.knobs),
      count = model.hz[2],
      peak = peakOf(at.model);
    assert.deepEqual(model.still, one.still);
    heard.forEach((k, i) => {
      for (let f = 0; f < count; f += every) {
        const want = size(at.model.re[k][f / every], at.model.im[k][f / every]);
        const got = size(rows[i + 1][f], rows[i + 1][count + f]) / size(rows[0][f], rows[0][count + f]);
        if (want > 1e-3 * peak) assert.ok(apartDb(got, want) < MODEL_DB, `${one.name} ${k} ${f}`);
      }
    });
  });
});

/** Response of a filter at a frequency, its delay taken out. @param {Float32Array} taps @param {number} at */
function responseOf(taps, at) {
  let re = 0,
    im = 0;
  taps.forEach((tap, n) => {
    const angle = (-2 * Math.PI * at * (n - FIR_DELAY)) / RATE;
    re += tap * Math.cos(angle);
    im += tap * Math.sin(angle);
  });
  return { re, im };
}

test("filters follow the circuit within 0.05 dB to 18 kHz, by level and by phase", () => {
  everySetting((one, model, at) => {
    const maker = createFirMaker(model.hz, RATE),
      values = valuesAt(model, at.knobs),
      peak = peakOf(at.circuit);
    const filters = maker.filters(maker.responses(values), 1);
    values.heard.forEach((k, i) =>
      hz.forEach((/** @type {number} */ f, /** @type {number} */ n) => {
        const a = at.circuit.re[k][n],
          b = at.circuit.im[k][n],
          { re, im } = responseOf(filters[i], f);
        if (size(a, b) < DEPTH * peak) return;
        assert.ok(apartDb(size(re, im), size(a, b)) < CURVE_DB, `${one.name} coil ${k} at ${f} Hz`);
        assert.ok(size(re - a, im - b) < 2 * peak * 10 ** (-60 / 20), `${one.name} coil ${k} at ${f} Hz`);
      }),
    );
  });
});

test("a gain scales the filters", () => {
  const [model] = models,
    maker = createFirMaker(model.hz, RATE),
    responses = maker.responses(valuesAt(model, {}));
  const [once] = maker.filters(responses, 1),
    [twice] = maker.filters(responses, 2);
  assert.ok(
    difference(
      once.map((one) => 2 * one),
      twice,
    ) < 1e-7,
  );
});

test("the loudness of a turned sound is dsp's within 0.3 LU", () => {
  everySetting((one, model, at) => {
    const maker = createFirMaker(model.hz, RATE),
      values = valuesAt(model, at.knobs);
    const found = loudnessOf(
      one.powers,
      model.coils.length,
      values.heard,
      maker.responses(values),
      maker.binHz,
    );
    assert.ok(Math.abs(found - at.lufs) < 0.3, `${one.name}: ${found} LUFS, ${at.lufs} expected`);
  });
});

test("a turned sound has its clip's gain, and at most the common loudness", () => {
  const [one] = cases,
    [model] = models,
    maker = createFirMaker(model.hz, RATE);
  const values = valuesAt(model, one.settings[0].knobs),
    responses = maker.responses(values);
  /** @param {number} clipDb */
  const gain = (clipDb) =>
    turnedGain({ powers: one.powers, coils: model.coils.length, clipDb, stemGain: 0.5 })(
      values.heard,
      responses,
      maker.binHz,
    );
  assert.ok(Math.abs(gain(-30) - 0.5 * 10 ** (-30 / 20)) < 1e-12);
  const most = -20 + 0.2 - one.settings[0].lufs;
  assert.ok(apartDb(gain(80), 0.5 * 10 ** (most / 20)) < 0.3);
});

test("damaged models are refused", () => {
  const whole = bytes(cases[0].model);
  assert.throws(() => readModel(whole.slice(0, 3)), RangeError);
  assert.throws(() => readModel(whole.slice(0, whole.byteLength - 4)), RangeError);
});

test("a knob that stands still changes nothing", () => {
  const model = models[1],
    [name] = model.still;
  const there = valuesAt(model, { [name]: 1 }),
    here = valuesAt(model, {});
  assert.deepEqual(there.rows, here.rows);
});

test("the transform is that of the definition, and its inverse comes back", () => {
  const n = 16,
    fourier = new Fourier(n),
    re = Float64Array.from(noise(1, n)),
    im = Float64Array.from(noise(2, n));
  const want = Array.from({ length: n }, (_, k) => {
    let a = 0;
    for (let i = 0; i < n; i++) {
      const angle = (-2 * Math.PI * i * k) / n;
      a += re[i] * Math.cos(angle) - im[i] * Math.sin(angle);
    }
    return a;
  });
  const x = re.slice(),
    y = im.slice();
  fourier.forward(x, y);
  assert.ok(difference(x, want) < 1e-12);
  fourier.back(x, y);
  assert.ok(
    difference(
      x.map((one) => one / n),
      re,
    ) < 1e-12,
  );
});

/**
 * Convolution by its definition.
 * @param {Float32Array[]} inputs @param {Float32Array[]} filters @param {number} n
 */
function convolved(inputs, filters, n) {
  let sum = 0;
  inputs.forEach((input, k) =>
    filters[k].forEach((tap, t) => {
      sum += tap * (input[n - t] ?? 0);
    }),
  );
  return sum;
}

test("convolution by parts is the sum of products, and has no delay", () => {
  const block = 32,
    filters = [noise(3, 100), noise(4, 100)],
    inputs = [noise(5, 320), noise(6, 320)];
  const convolution = new Convolution(filters, block),
    out = new Float32Array(320);
  for (let at = 0; at < 320; at += block) {
    const part = inputs.map((input) => input.subarray(at, at + block));
    convolution.run(part, out.subarray(at, at + block));
  }
  for (const n of [0, 1, 31, 32, 99, 100, 250, 319])
    assert.ok(Math.abs(out[n] - convolved(inputs, filters, n)) < 1e-8);
});

test("a channel without input is silent from then on", () => {
  const convolution = new Convolution([Float32Array.of(1)], 32),
    out = new Float32Array(32);
  convolution.run([noise(5, 32)], out);
  assert.ok(out.some((one) => one !== 0));
  convolution.run([], out);
  assert.ok(out.every((one) => Math.abs(one) < 1e-12));
});

test("a rendered loop goes round: its end rings into its start", async () => {
  const stems = [noise(7, 5000)],
    filters = [noise(8, FIR_TAPS)];
  const out = await renderLoop(stems, filters, () => true);
  assert.ok(out);
  const round = [Float32Array.from({ length: 10_000 }, (_, n) => stems[0][n % 5000])];
  for (const n of [0, 5, 2047, 2048, 4999])
    assert.ok(Math.abs(out[n] - convolved(round, filters, 5000 + n)) < 1e-6);
});
