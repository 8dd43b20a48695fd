/**
 * The way from the voices to the sound: gains, and the chain of a way to hear it. Voices that are heard in
 * the same way share one path: the switch of a guitar stands before the amplifier.
 */

import { BLOCK } from "./bank.js";
import { Chain } from "./chain.js";
import { FADE, raisedCosine } from "./fade.js";

/** @import {ChainRecord} from "./chain.js" */
/** @import {Ramp} from "./fade.js" */
/**
 * @typedef {object} Through  A way to hear it.
 * @property {string} way
 * @property {number} loweredDb  What its drive gives way by.
 */

/** @typedef {{out: Float64Array, wired: number, match: Ramp, most: Ramp}} Voice  A block's volts, and the
 *   gains they are heard with. */

/** @type {Through} */
export const DIRECT = { way: "direct", loweredDb: 0 };
const FADE_IN = raisedCosine(FADE);

/** The share of what fades in, `gone` samples after its start. @param {number} gone */
export const shareOf = (gone) => (gone < FADE ? FADE_IN[gone] : 1);

/** @param {Through} a @param {Through} b */
export const sameThrough = (a, b) => a.way === b.way && a.loweredDb === b.loweredDb;

/** Why a way cannot be played, or "". @param {ChainRecord | null} record @param {Through} through */
export function unplayable(record, { way }) {
  if (way === DIRECT.way || record?.ways.some(({ name, amplified }) => name === way && amplified)) return "";
  return record ? `the way ${way} is not known` : "the chain has not arrived";
}

/** The levels of a block, sample by sample: the output and how far levels are matched. */
export class Levels {
  constructor() {
    this.output = new Float64Array(BLOCK);
    this.matched = new Float64Array(BLOCK);
  }
}

export class Path {
  /** @param {Through} through @param {ChainRecord | null} record */
  constructor(through, record) {
    this.through = through;
    const way = record?.ways.find(({ name }) => name === through.way);
    /** None: the volts themselves are heard. */
    this.chain = record && way?.amplified ? new Chain(record, way, through.loweredDb) : null;
    this.bends = this.chain !== null && !this.chain.linear;
    /** Gains of the block, and of as many samples before as the chain delays; of a path that bends. */
    this.gains = new Float64Array((this.chain?.way.delay ?? 0) + BLOCK);
    this.begun = false;
  }

  /** Samples that it must run before it may sound. */
  get settles() {
    return this.chain?.settles ?? 0;
  }

  /** The gain of its drive, dB: by so much what is heard may be louder than the volts. */
  get gainDb() {
    return this.chain ? 20 * Math.log10(this.chain.gain) : 0;
  }

  /** What it does to a soft sound, a factor. @param {number} turns  frequency over sampling rate */
  gainAt(turns) {
    return this.chain ? this.chain.gainAt(turns) : 1;
  }

  /**
   * Sound a block of one voice, or of two while the second fades in.
   * @param {Voice} voice @param {Voice | null} coming @param {number} gone samples since its start
   * @param {Levels} levels @param {number} n @param {Float64Array} out
   */
  sound(voice, coming, gone, levels, n, out) {
    if (this.bends) return this.#bend(voice, coming, gone, levels, n, out);
    for (let i = 0; i < n; i++) {
      const output = levels.output[i],
        matched = levels.matched[i],
        share = coming ? shareOf(gone + i) : 0;
      let sum = share < 1 ? (1 - share) * gainOf(voice, output, matched) * voice.out[i] : 0;
      if (coming) sum += share * gainOf(coming, output, matched) * coming.out[i];
      out[i] = sum;
    }
    this.#run(out, n);
  }

  /**
   * The volts are added before the chain, the gain follows it: between two gains it moves so that two
   * settings of one sound stay equally loud on the way.
   * @param {Voice} voice @param {Voice | null} coming @param {number} gone
   * @param {Levels} levels @param {number} n @param {Float64Array} out
   */
  #bend(voice, coming, gone, levels, n, out) {
    const { gains } = this,
      delay = gains.length - BLOCK;
    for (let i = 0; i < n; i++) {
      const output = levels.output[i],
        matched = levels.matched[i],
        share = coming ? shareOf(gone + i) : 0;
      const from = share < 1 ? gainOf(voice, output, matched) : 0,
        to = coming ? gainOf(coming, output, matched) : 0;
      out[i] = (1 - share) * voice.out[i] + (coming ? share * coming.out[i] : 0);
      gains[delay + i] = between(from, to, share);
    }
    if (!this.begun) gains.fill(gains[delay], 0, delay);
    this.#run(out, n);
    for (let i = 0; i < n; i++) out[i] *= gains[i];
    gains.copyWithin(0, n, n + delay);
  }

  /**
   * Run the chain over samples before its start, without sound.
   * @param {Voice} voice @param {number} output @param {number} matched @param {number} n
   */
  settle(voice, output, matched, n) {
    if (!this.bends) {
      const gain = stillGainOf(voice, output, matched);
      for (let i = 0; i < n; i++) voice.out[i] *= gain;
    }
    this.#run(voice.out, n);
    this.begun = false; // the gains of what is still on its way follow with the first block
  }

  /** @param {Float64Array} samples @param {number} n */
  #run(samples, n) {
    const { chain } = this;
    if (!chain) return;
    this.begun = true;
    chain.run(samples, n);
    let sum = 0;
    for (let i = 0; i < n; i++) sum += samples[i];
    if (Number.isFinite(sum)) return;
    samples.fill(0, 0, n);
    chain.reset();
  }
}

/** A gain between two, by a share of the second: the mean of what they divide by.
 * @param {number} from @param {number} to @param {number} share */
function between(from, to, share) {
  if (share <= 0) return from;
  if (share >= 1) return to;
  return from > 0 && to > 0 ? 1 / ((1 - share) / from + share / to) : (1 - share) * from + share * to;
}

/**
 * Gain of a voice for the next sample.
 * @param {Voice} voice @param {number} output @param {number} matched
 */
const gainOf = (voice, output, matched) =>
  gainFor(voice, output, matched, voice.match.next(), voice.most.next());

/** The same, while nothing moves. @param {Voice} voice @param {number} output @param {number} matched */
const stillGainOf = (voice, output, matched) =>
  gainFor(voice, output, matched, voice.match.value, voice.most.value);

/** @param {Voice} voice @param {number} output @param {number} matched @param {number} match
 * @param {number} most */
const gainFor = ({ wired }, output, matched, match, most) =>
  Math.min(output * (wired + matched * (match - wired)), most);
