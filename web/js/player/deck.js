/**
 * The player itself, without a browser: looping stems, the bank that sounds, the bank that fades in,
 * levels and guard. The worklet passes it messages and requests blocks.
 *
 * A change of filters, stems or place becomes a second voice. The second voice first runs over the
 * samples before its start, a part per block if there are many, then fades in while the first fades
 * out. Only one fade runs at a time. Of the changes requested meanwhile, the newest wins. Voices that are
 * heard in the same way share its path and what it remembers; another way is a second path, which fades too.
 */

import { BLOCK, Bank, PAST, WARM_BLOCK, warmSamples } from "./bank.js";
import { FADE, PLAY_RAMP, Ramp } from "./fade.js";
import { unusable } from "./frames.js";
import { PeakGuard, UNKNOWN_LUFS, mostGain } from "./guard.js";
import { addHum, humLufs, sameHum } from "./hum.js";
import { dbToGain } from "./level.js";
import { Loop, fittingLoop } from "./loop.js";
import { DIRECT, Levels, Path, sameThrough, shareOf, unplayable } from "./path.js";

/** @import {ChainRecord} from "./chain.js" */
/** @import {Frame} from "./frames.js" */
/** @import {Hum} from "./hum.js" */
/** @import {Through} from "./path.js" */
/** @typedef {{key?: string, frame?: Frame, loop?: [number, number], seek?: number, gainDb?: number,
 *   through?: Through, hum?: Hum | null}} Wish
 *   gainDb, through, hum: the gain of settings as wired, the way to hear them and the hum of the room, from
 *   now on */
/** @typedef {(message: {type: string, [more: string]: unknown}) => void} Tell */

const GAIN_RAMP = 2400,
  OUTPUT_RAMP = 1440;
/** Loudness limit after a change of setting, LUFS; see `setLoudest`. */
export const LOUDEST_LUFS = -14;
/** Highest gain of the output control. */
const MOST_OUTPUT = 2;
/** Samples that a chain is run over at once before it sounds. */
const SETTLE_BLOCK = 1024;
/** The rate of stems and filters, Hz. */
const RATE = 48_000;

/** The samples of a loop in playing order, with those just before them, and the hum of a room. */
class Tape {
  /** @param {Loop} loop @param {Hum | null} hum */
  constructor(loop, hum) {
    this.loop = loop;
    this.hum = hum;
    this.rows = loop.stems.map(() => new Float64Array(PAST + BLOCK));
    this.clock = NaN;
  }

  /** Prepare the block at a clock. @param {number} clock @param {number} n */
  wind(clock, n) {
    if (this.clock === clock) return;
    if (this.clock + BLOCK === clock) for (const row of this.rows) row.copyWithin(0, BLOCK);
    else this.read(clock - PAST, PAST, this.rows, 0);
    this.read(clock, n, this.rows, PAST);
    this.clock = clock;
  }

  /** Samples of every coil; see `Loop.read`.
   * @param {number} clock @param {number} n @param {Float64Array[]} into @param {number} at */
  read(clock, n, into, at) {
    this.loop.read(clock, n, into, at);
    if (this.hum) addHum(this.hum, clock, n, into, at);
  }
}

/** A bank running on a tape, its level, and the path that it is heard through. */
class Voice {
  /** @param {Frame} frame @param {Tape} tape @param {string} key @param {Path} path @param {number} loudest
   * @param {number} wired  gain as wired
   * @param {number} [match]  matching gain to use while the frame's own is unknown */
  constructor(frame, tape, key, path, loudest, wired, match = wired) {
    this.frame = frame;
    this.tape = tape;
    this.key = key;
    this.path = path;
    this.bank = new Bank(frame);
    this.out = new Float64Array(BLOCK);
    this.wired = wired;
    this.match = new Ramp(matchOf(frame.matchGainDb, match), GAIN_RAMP);
    this.most = new Ramp(this.mostFor(loudest), GAIN_RAMP);
    this.warmed = NaN; // clock that warming has reached
    this.settling = Infinity; // clock from which a path of its own is run too
    this.begun = NaN; // clock at the start of its fade
  }

  /** The largest gain that keeps it and the hum in it within a loudness. @param {number} loudest LUFS */
  mostFor(loudest) {
    const { frame, path, tape } = this;
    const hum = humLufs(tape.hum, frame, RATE, (hz) => path.gainAt(hz / RATE));
    return mostGain(frame.matchGainDb, loudest, UNKNOWN_LUFS + path.gainDb, hum);
  }

  /** @param {number} clock @param {number} n */
  play(clock, n) {
    this.tape.wind(clock, n);
    this.bank.run(this.tape.rows, PAST, n, this.out);
  }
}

/** @param {number} db @param {number} unknown */
const matchOf = (db, unknown) => (Number.isFinite(db) ? dbToGain(db) : unknown);

export class Deck {
  /** @param {Tell} tell @param {{output?: number, loudest?: number}} [options] */
  constructor(tell, { output = 0, loudest = LOUDEST_LUFS } = {}) {
    this.tell = tell;
    /** @type {Map<string, Float32Array[]>} */
    this.stems = new Map();
    /** @type {Voice | null} */
    this.voice = null;
    /** @type {Voice | null} */
    this.coming = null;
    /** @type {Wish | null} */
    this.wish = null;
    this.clock = 0;
    this.fresh = true;
    this.play = new Ramp(0, PLAY_RAMP);
    this.output = new Ramp(output, OUTPUT_RAMP);
    this.matched = new Ramp(0, GAIN_RAMP);
    this.loudest = loudest;
    this.guard = new PeakGuard();
    this.muted = 0;
    /** @type {ChainRecord | null} */
    this.record = null;
    this.levels = new Levels();
    this.other = new Float64Array(BLOCK);
    /** @type {Float64Array[]} */
    this.scratch = [];
  }

  get playing() {
    return this.play.target === 1;
  }

  /** The playing position, in samples of the stems. */
  get position() {
    return (this.coming ?? this.voice)?.tape.loop.position(this.clock) ?? 0;
  }

  /** Store stems under a key. @param {string} key @param {Float32Array[]} stems */
  keep(key, stems) {
    if (!stems.length || stems.some((stem) => stem.length !== stems[0].length || !stem.length)) {
      this.tell({ type: "refused", what: "stems are empty or differ in length" });
      return;
    }
    this.stems.set(key, stems);
    while (this.scratch.length < stems.length) this.scratch.push(new Float64Array(WARM_BLOCK + 1));
    if (this.wish?.key === key || this.voice?.key === key) this.ask({ key });
  }

  /** @param {string} key */
  drop(key) {
    this.stems.delete(key);
  }

  /** Take the chain, before any way that is amplified. @param {ChainRecord} record */
  setChain(record) {
    this.record = record;
  }

  /** Request another sound. @param {Wish} wish */
  ask(wish) {
    const unknown = wish.through && unplayable(this.record, wish.through);
    if (unknown) {
      this.tell({ type: "refused", what: unknown });
      return;
    }
    if (wish.frame) {
      const wrong = unusable(wish.frame);
      if (wrong) {
        this.tell({ type: "refused", what: wrong, id: wish.frame.id });
        return;
      }
      const only = wish.loop === undefined && wish.seek === undefined;
      if (only && this.#sameAgain(wish.frame, wish)) return;
    }
    this.wish = { ...this.wish, ...wish };
  }

  /** Take the level from a frame that already sounds with its stems.
   * @param {Frame} frame @param {Wish} wish */
  #sameAgain(frame, { key, gainDb, through, hum }) {
    const voice = this.coming ?? this.voice;
    if (this.wish?.frame || this.wish?.key !== undefined || !voice) return false;
    if (!frame.id || voice.frame.id !== frame.id || (key ?? voice.key) !== voice.key) return false;
    if (gainDb !== undefined && dbToGain(gainDb) !== voice.wired) return false;
    if (through && !sameThrough(through, voice.path.through)) return false;
    if (hum !== undefined && !sameHum(hum, voice.tape.hum)) return false;
    voice.match.to(matchOf(frame.matchGainDb, voice.match.target));
    voice.frame = { ...voice.frame, matchGainDb: frame.matchGainDb };
    voice.most.to(voice.mostFor(this.loudest));
    return true;
  }

  /** @param {boolean} on */
  setPlaying(on) {
    this.play.to(on ? 1 : 0);
  }

  /** @param {number} gain */
  setOutput(gain) {
    this.output.to(Math.max(0, Math.min(MOST_OUTPUT, gain)));
  }

  /** @param {boolean} on */
  setMatched(on) {
    this.matched.to(on ? 1 : 0);
  }

  /** Set the loudness limit of a setting. @param {number} lufs */
  setLoudest(lufs) {
    this.loudest = lufs;
    for (const voice of [this.voice, this.coming]) voice?.most.to(voice.mostFor(lufs));
  }

  /**
   * The next block.
   * @param {Float64Array} out @param {number} n at most BLOCK; BLOCK in all but the last
   */
  block(out, n) {
    out.fill(0, 0, n);
    this.#getReady();
    const moving = this.play.value > 0 || this.play.left > 0;
    if (!moving && this.coming && this.coming.begun <= this.clock) this.#swap(); // silent: no fade needed
    if (moving && this.voice) {
      this.#sound(this.voice, out, n);
      this.clock += n;
      this.fresh = false;
    }
    this.guard.run(out, n);
  }

  /**
   * Get filters ready that came between two blocks, where the thread is idle: they are heard from the next
   * block on. A wish for other stems or another place waits for that block, as more of it may follow.
   */
  getReady() {
    const { wish, voice } = this;
    if (!wish || !voice || wish.loop || wish.seek !== undefined) return;
    if (wish.key === undefined || wish.key === voice.key) this.#getReady();
  }

  #getReady() {
    if (!this.coming && this.wish) this.#prepare();
    if (this.coming && !(this.coming.begun <= this.clock)) this.#warm(this.coming);
  }

  /** Make a voice for the wish once its parts have arrived. */
  #prepare() {
    const wish = /** @type {Wish} */ (this.wish),
      now = this.voice;
    const key = wish.key ?? now?.key,
      frame = wish.frame ?? now?.frame;
    const kept = key === undefined ? undefined : this.stems.get(key);
    const stems = kept ?? (key === now?.key ? now?.tape.loop.stems : undefined); // dropped, but still playing
    // its stems may not have arrived yet
    if (!frame || !stems || key === undefined || frame.coils !== stems.length) return;
    const hum = wish.hum === undefined ? (now?.tape.hum ?? null) : wish.hum;
    if (hum && hum.areas.length !== stems.length) return;
    const tape = this.#tape(wish, key, stems, hum);
    this.wish = null;
    const wired = wish.gainDb === undefined ? (now?.wired ?? 1) : dbToGain(wish.gainDb);
    const through = wish.through ?? now?.path.through ?? DIRECT;
    const shared = now && sameThrough(now.path.through, through) ? now.path : null;
    const path = shared ?? new Path(through, this.record);
    // the level of another way says nothing of this one's
    this.coming = new Voice(frame, tape, key, path, this.loudest, wired, shared ? now?.match.target : wired);
    if (!shared && path.chain) this.coming.settling = this.clock - path.settles;
    this.coming.warmed = Math.min(this.clock, this.coming.settling) - warmSamples(frame);
  }

  /** The tape for a wish: the present one, unless the wish has another place or other stems.
   * @param {Wish} wish @param {string} key @param {Float32Array[]} stems @param {Hum | null} hum */
  #tape(wish, key, stems, hum) {
    const loop = this.voice?.tape.loop;
    const same = this.voice?.key === key && loop?.stems === stems;
    if (this.voice && loop && same && !wish.loop && wish.seek === undefined)
      return sameHum(hum, this.voice.tape.hum) ? this.voice.tape : new Tape(loop, hum);
    const length = stems[0].length,
      whole = /** @type {[number, number]} */ ([0, length]);
    // the whole of another take has its own length
    const all = !loop || (loop.start === 0 && loop.end === loop.stems[0].length);
    const [start, end] = fittingLoop(...(wish.loop ?? (all ? whole : [loop.start, loop.end])), length);
    const place = wish.seek ?? (loop ? loop.position(this.clock) : start);
    return new Tape(new Loop(stems, start, end, Math.round(place), this.clock, this.fresh), hum);
  }

  /** Run a voice over preceding samples, at most WARM_BLOCK now. @param {Voice} voice */
  #warm(voice) {
    const mine = this.scratch.slice(0, voice.tape.rows.length);
    const until = Math.min(this.clock, voice.settling);
    if (voice.warmed < until) {
      const n = Math.min(until - voice.warmed, WARM_BLOCK);
      voice.tape.read(voice.warmed - 1, n + 1, mine, 0);
      voice.bank.warm(mine, 1, n);
      voice.warmed += n;
    } else this.#settle(voice, mine);
    if (voice.warmed !== this.clock) return;
    voice.begun = this.clock;
    this.tell({ type: "applied", id: voice.frame.id, clock: this.clock });
    if (!this.voice) this.#swap();
  }

  /** Run a voice and its path over preceding samples, at most SETTLE_BLOCK now.
   * @param {Voice} voice @param {Float64Array[]} rows */
  #settle(voice, rows) {
    const n = Math.min(this.clock - voice.warmed, SETTLE_BLOCK);
    voice.tape.read(voice.warmed - PAST, PAST + n, rows, 0);
    for (let at = 0; at < n; at += BLOCK) {
      const part = Math.min(BLOCK, n - at);
      voice.bank.run(rows, PAST + at, part, voice.out);
      this.#mute(voice);
      voice.path.settle(voice, this.output.value, this.matched.value, part);
    }
    voice.warmed += n;
  }

  #swap() {
    this.voice = this.coming;
    this.coming = null;
  }

  /** @param {Voice} voice @param {Float64Array} out @param {number} n */
  #sound(voice, out, n) {
    const coming = this.coming && this.coming.begun <= this.clock ? this.coming : null;
    voice.play(this.clock, n);
    coming?.play(this.clock, n);
    this.#mute(voice);
    if (coming) this.#mute(coming);
    const gone = coming ? this.clock - coming.begun : 0,
      { levels, other } = this;
    for (let i = 0; i < n; i++) {
      levels.output[i] = this.output.next();
      levels.matched[i] = this.matched.next();
    }
    const shared = !coming || coming.path === voice.path;
    voice.path.sound(voice, shared ? coming : null, gone, levels, n, out);
    if (!shared) {
      coming.path.sound(coming, null, 0, levels, n, other);
      for (let i = 0; i < n; i++) {
        const share = shareOf(gone + i);
        out[i] = (1 - share) * out[i] + share * other[i];
      }
    }
    for (let i = 0; i < n; i++) out[i] *= this.play.next();
    if (coming && gone + n >= FADE) this.#swap();
  }

  /** Set samples that are not numbers to zero and clear their bank. @param {Voice} voice */
  #mute(voice) {
    const { out, bank } = voice;
    let sum = 0;
    for (let i = 0; i < BLOCK; i++) sum += out[i];
    if (Number.isFinite(sum)) return;
    this.muted += 1;
    out.fill(0);
    bank.reset();
    this.tell({ type: "muted", blocks: this.muted });
  }
}
