/**
 * The chain behind the guitar, as dsp/chain computes it: gain, tone stack, soft stage, loudspeaker. The
 * server gives every number of it once.
 */

import { BLOCK, Bank, PAST, responseOf, warmSamples } from "./bank.js";

/** @import {Frame} from "./frames.js" */
/**
 * @typedef {{poles: number[][], numerators: number[][], taps: number[]}} OneInput  Filters of one input.
 * @typedef {object} Way
 * @property {string} name
 * @property {string} about         One line for people.
 * @property {boolean} amplified    Whether it has a chain.
 * @property {number} gain          Before the stack, a factor.
 * @property {number} oversampling  Of the soft stage; 0 without one.
 * @property {number} delay         Samples.
 * @typedef {object} ChainRecord
 * @property {Way[]} ways           The first has no chain.
 * @property {string} caution       To heed with an amplifier.
 * @property {OneInput} stack
 * @property {OneInput} speaker
 * @property {{bend_per_v: number, shift_v: number, pole: number, half_bands: number[][],
 *   late: Record<string, number>}} soft
 */

/** Smaller states are set to zero: arithmetic on denormal numbers is many times slower. */
const NOTHING = 1e-30;
/** What is left of a start when a chain counts as settled, dB. */
const SETTLED_DB = 130;

/** @param {OneInput} one @returns {Frame} */
const frameOf = ({ poles, numerators, taps }) => ({
  id: 0,
  coils: 1,
  sections: poles.length,
  taps: taps.length,
  delay: 0,
  errorDb: 0,
  meets: true,
  matchGainDb: NaN,
  poles: Float64Array.from(poles.flat()),
  numerators: Float64Array.from(numerators.flat()),
  fir: Float64Array.from(taps),
});

/** A bank of one input, which keeps the samples before a block. */
class OneBank {
  /** @param {OneInput} one */
  constructor(one) {
    this.bank = new Bank(frameOf(one));
    this.row = new Float64Array(PAST + BLOCK);
    this.rows = [this.row];
    this.settles = warmSamples(this.bank.frame);
  }

  /** Filter samples in place. @param {Float64Array} samples @param {number} n at most BLOCK */
  run(samples, n) {
    const row = this.row;
    for (let i = 0; i < n; i++) row[PAST + i] = samples[i];
    this.bank.run(this.rows, PAST, n, samples);
    row.copyWithin(0, n, n + PAST);
  }

  reset() {
    this.bank.reset();
    this.row.fill(0);
  }
}

/** Samples delayed by a whole number. */
class Late {
  /** @param {number} by @param {number} most samples at once */
  constructor(by, most) {
    this.by = by;
    this.row = new Float64Array(by + most);
  }

  /** @param {Float64Array} samples @param {number} n */
  run(samples, n) {
    const { row, by } = this;
    for (let i = 0; i < n; i++) row[by + i] = samples[i];
    for (let i = 0; i < n; i++) samples[i] = row[i];
    row.copyWithin(0, n, n + by);
  }

  /** @param {number} value of all that is still to come out */
  fill(value) {
    this.row.fill(value);
  }
}

/**
 * A symmetric FIR of an even number of taps, four pairs at a time, added to every `step`-th sample of its
 * output.
 * @param {Float64Array} taps @param {Float64Array} row  `taps.length - 1` samples precede the block
 * @param {number} n @param {Float64Array} out @param {number} step @param {number} scale
 */
function addFir(taps, row, n, out, step, scale) {
  const last = taps.length - 1,
    half = taps.length >> 1;
  let t = 0;
  for (; t + 4 <= half; t += 4) {
    const c0 = scale * taps[t],
      c1 = scale * taps[t + 1],
      c2 = scale * taps[t + 2],
      c3 = scale * taps[t + 3];
    for (let i = 0, at = 0, far = t, near = last - t + 1; i < n; i++, at += step, far++, near++)
      out[at] +=
        c0 * (row[near - 1] + row[far]) +
        c1 * (row[near - 2] + row[far + 1]) +
        c2 * (row[near - 3] + row[far + 2]) +
        c3 * (row[near - 4] + row[far + 3]);
  }
  for (; t < half; t++) {
    const c = scale * taps[t],
      near = last - t;
    for (let i = 0, at = 0; i < n; i++, at += step) out[at] += c * (row[near + i] + row[t + i]);
  }
}

/** Twice the sampling rate, and back. Every other tap of a half-band is zero but the middle one, a half. */
class Doubling {
  /** @param {number[]} taps @param {number} most samples of the lower rate at once */
  constructor(taps, most) {
    this.short = Float64Array.from(taps.filter((_, i) => i % 2 === 0));
    const middle = taps.length >> 1,
      past = this.short.length - 1;
    this.past = past;
    this.up = { row: new Float64Array(past + most), passed: new Late(middle >> 1, most) };
    this.down = { row: new Float64Array(past + most), passed: new Late((middle + 1) >> 1, most) };
    this.odd = new Float64Array(most);
  }

  /** @param {Float64Array} samples n of them @param {number} n @param {Float64Array} out 2 n of them */
  double(samples, n, out) {
    const { past, odd, up } = this;
    for (let i = 0; i < n; i++) {
      up.row[past + i] = odd[i] = samples[i];
      out[2 * i] = 0;
    }
    addFir(this.short, up.row, n, out, 2, 2);
    up.row.copyWithin(0, n, n + past);
    up.passed.run(odd, n);
    for (let i = 0; i < n; i++) out[2 * i + 1] = odd[i];
  }

  /** @param {Float64Array} samples 2 n of them @param {number} n @param {Float64Array} out n of them */
  halve(samples, n, out) {
    const { past, odd, down } = this;
    for (let i = 0; i < n; i++) {
      down.row[past + i] = samples[2 * i];
      odd[i] = samples[2 * i + 1];
    }
    down.passed.run(odd, n);
    for (let i = 0; i < n; i++) out[i] = 0.5 * odd[i];
    addFir(this.short, down.row, n, out, 1, 1);
    down.row.copyWithin(0, n, n + past);
  }

  reset() {
    for (const way of [this.up, this.down]) {
      way.row.fill(0);
      way.passed.fill(0);
    }
  }
}

/** The soft stage: a bent curve at four or eight times the rate, then a high-pass. */
class SoftStage {
  /** @param {ChainRecord["soft"]} soft @param {number} oversampling */
  constructor(soft, oversampling) {
    const doublings = Math.log2(oversampling);
    this.soft = soft;
    this.oversampling = oversampling;
    this.doublings = soft.half_bands.slice(0, doublings).map((taps, k) => new Doubling(taps, BLOCK << k));
    this.rows = this.doublings.map((_, k) => new Float64Array(BLOCK << (k + 1)));
    this.late = new Late(soft.late[String(oversampling)], BLOCK * oversampling);
    this.before = 0;
    this.after = 0;
    const perSample = -20 * Math.log10(soft.pole);
    this.settles = Math.ceil(SETTLED_DB / perSample);
  }

  /** Bend samples in place. @param {Float64Array} samples @param {number} n at most BLOCK */
  run(samples, n) {
    const { doublings, rows } = this,
      top = rows[rows.length - 1];
    doublings.forEach((one, k) => one.double(k ? rows[k - 1] : samples, n << k, rows[k]));
    this.#bend(top, n * this.oversampling);
    this.late.run(top, n * this.oversampling);
    for (let k = doublings.length - 1; k >= 0; k--)
      doublings[k].halve(rows[k], n << k, k ? rows[k - 1] : samples);
    this.#block(samples, n);
  }

  /** @param {Float64Array} samples @param {number} n */
  #bend(samples, n) {
    const { bend_per_v: k, shift_v: d } = this.soft,
      rest = Math.tanh(k * d),
      twice = 2 * k,
      deep = 2 / (k * (1 - rest * rest)),
      still = 1 / (Math.exp(twice * d) + 1);
    // (tanh k(x + d) - tanh kd) / slope, as tanh v = 1 - 2 / (exp 2v + 1), which engines compute faster
    for (let i = 0; i < n; i++) samples[i] = deep * (still - 1 / (Math.exp(twice * (samples[i] + d)) + 1));
  }

  /** The capacitor behind the stage. @param {Float64Array} samples @param {number} n */
  #block(samples, n) {
    const { pole } = this.soft,
      b = 0.5 * (1 + pole);
    let { before, after } = this;
    for (let i = 0; i < n; i++) {
      const now = samples[i];
      after = b * (now - before) + pole * after;
      before = now;
      samples[i] = after;
    }
    this.before = before;
    this.after = Math.abs(after) < NOTHING ? 0 : after;
  }

  reset() {
    for (const one of this.doublings) one.reset();
    this.late.fill(0);
    this.before = this.after = 0;
  }
}

/** A way that is amplified, running. */
export class Chain {
  /**
   * @param {ChainRecord} record @param {Way} way
   * @param {number} [loweredDb]  what its drive gives way by
   */
  constructor(record, way, loweredDb = 0) {
    this.way = way;
    this.gain = way.gain * 10 ** (-loweredDb / 20);
    this.stack = new OneBank(record.stack);
    this.soft = way.oversampling ? new SoftStage(record.soft, way.oversampling) : null;
    this.speaker = new OneBank(record.speaker);
    /** Samples that it must run before it may sound. */
    this.settles = Math.max(this.stack.settles, this.speaker.settles, this.soft?.settles ?? 0) + way.delay;
  }

  /** Whether gains may stand before it as well as behind. */
  get linear() {
    return this.soft === null;
  }

  /**
   * Run samples in place.
   * @param {Float64Array} samples volts at the input @param {number} n at most BLOCK
   */
  run(samples, n) {
    for (let i = 0; i < n; i++) samples[i] *= this.gain;
    this.stack.run(samples, n);
    this.soft?.run(samples, n);
    this.speaker.run(samples, n);
  }

  /** What it does to a soft sound, a factor. @param {number} turns  frequency over sampling rate */
  gainAt(turns) {
    return [this.stack, this.speaker].reduce(
      (gain, { bank }) => gain * Math.hypot(...responseOf(bank.frame, 0, turns)),
      this.gain,
    );
  }

  /** Forget all samples. */
  reset() {
    this.stack.reset();
    this.soft?.reset();
    this.speaker.reset();
  }
}
