/**
 * Plays finished clips of one take in step: a clip starts at the sample that the clip before it has reached.
 * It needs no AudioWorklet, so it works over plain http; only a guard of peaks needs one. One voice sounds at
 * a time. The next one takes over in a fade of 20 ms, whose two gains always add up to one.
 */

import { createTurns } from "../shared/latest.js";
import { dbToGain, samplePlace } from "./level.js";
import { LOWERED } from "./between.js";
import { ramp } from "./gain_plan.js";
import { createTap } from "./tap.js";
import { truePeak } from "./true_peak.js";

const RATE = 48_000;
const FADE_S = 0.02;
/** Ahead of now, so that both voices are scheduled before either fade begins. */
const AHEAD_S = 0.015;
/** Play fades in slowly: listeners do not know yet how loud their speakers are. */
const RISE_S = 0.5;
const FALL_S = 0.03;
/** From the choice of another take until nothing of the one before it sounds: two fades, and some more. */
const LEFT_MS = 1000 * 4 * (FADE_S + AHEAD_S);
const POINTS = 65;
const RISE = Float32Array.from(
  { length: POINTS },
  (_, k) => 0.5 - 0.5 * Math.cos((Math.PI * k) / (POINTS - 1)),
);
const FALL = RISE.map((gain) => 1 - gain);

/** @typedef {{key: string, files: string[]}} Clip  One sound in several formats, the preferred one first. */
/** @typedef {{buffer: AudioBuffer, gainDb: number}} Target */
/** @typedef {{source: AudioBufferSourceNode, fade: GainNode, trim: GainNode, target: Target}} Voice */
/**
 * @typedef {"stopped" | "playing" | "held"} State  held: the system took the sound away, as for a telephone
 *   call
 */

/**
 * The beginning of a clip, heard until the whole is there.
 * @typedef {{bytes: ArrayBuffer, seconds: number}} Head  seconds: of the whole clip
 */

/** Faded out at the end of a head: the bytes end within a frame of the file. */
const CUT_S = 0.05;

/** Decode a head; silence follows it. @param {Head} head */
async function decodeHead({ bytes, seconds }) {
  const start = (await decode(bytes)).getChannelData(0),
    length = Math.round(seconds * RATE),
    cut = Math.round(CUT_S * RATE),
    end = Math.min(start.length, length);
  const buffer = new AudioBuffer({ length, sampleRate: RATE }),
    samples = buffer.getChannelData(0);
  for (let k = 0; k < end; k++) samples[k] = start[k] * Math.min(1, (end - k) / cut);
  return buffer;
}

/** @type {WeakMap<AudioBuffer, number>} */
const peaks = new WeakMap();
/** @param {AudioBuffer} buffer */
function peakOf(buffer) {
  const found = peaks.get(buffer) ?? truePeak(buffer.getChannelData(0));
  peaks.set(buffer, found);
  return found;
}

/** Decode a file at 48 kHz, whatever the device's rate. Needs no audio device. @param {ArrayBuffer} bytes */
const decode = (bytes) => new OfflineAudioContext(1, 1, RATE).decodeAudioData(bytes);

/**
 * @param {object} [options]
 * @param {(file: string, clip: Clip) => Promise<ArrayBuffer>} [options.source]  the bytes of one of a clip's
 *   files
 * @param {(file: string) => Promise<Head> | null} [options.head]  null for a file that comes whole
 * @param {(state: State) => void} [options.onState] @param {() => BaseAudioContext} [options.context]
 * @param {number} [options.rise]  s
 * @param {(context: BaseAudioContext) => Promise<AudioNode | null>} [options.guard]  keeps peaks below the
 *   ceiling; null where it cannot
 */
export function createClips({
  source: readFile = () => Promise.reject(new Error("no source of clips")),
  head: readHead = () => null,
  onState = () => {},
  context: make = liveContext,
  rise = RISE_S,
  guard: makeGuard,
} = {}) {
  /** @type {Map<string, Promise<AudioBuffer>>} */
  const loaded = new Map();
  const turns = createTurns();
  /** @type {BaseAudioContext | undefined} */
  let context;
  /** @type {GainNode} */
  let gate;
  /** @type {GainNode} */
  let out;
  /** @type {Voice | undefined} */
  let voice;
  /** @type {Target | undefined} */
  let target;
  /** Sample of the context's clock at which the take's first sample would have sounded. */
  let anchor = 0;
  /** @type {ReturnType<typeof createTap> | undefined} */
  let tap;
  /** Settles when `isWhole`: the chain to the loudspeaker has its guard, or does without. */
  let whole = Promise.resolve();
  let place = 0,
    level = 0,
    most = 1,
    // true peak of the take's sounds so far: a coded one may exceed what the server measured
    hottest = 0,
    // of the take before it, while that fades out
    left = 0,
    guarded = false,
    isWhole = !makeGuard,
    playing = false,
    free = 0,
    leaving = 0,
    timer = 0;

  /** Call in a press or tap, or browsers allow no sound. */
  function open() {
    if (context) return context;
    context = make();
    out = new GainNode(context, { gain: gainNow() });
    gate = new GainNode(context, { gain: 0 });
    tap = createTap(context);
    tap.node.connect(context.destination);
    gate.connect(out);
    if (makeGuard) whole = putGuard(context, makeGuard, tap.node);
    else out.connect(tap.node);
    context.addEventListener("statechange", () => {
      if (playing && context?.state !== "running") onState("held");
      else if (playing) onState("playing");
    });
    return context;
  }

  /** Without a guard no peak may need one. */
  const gainNow = () => (guarded ? level : Math.min(level, most, LOWERED / Math.max(hottest, left)));

  /** Measure the target where no guard will. */
  function measure() {
    if (guarded || !target || !context) return;
    const before = hottest;
    hottest = Math.max(hottest, dbToGain(target.gainDb) * peakOf(target.buffer));
    if (hottest > before) ramp(out, gainNow(), AHEAD_S);
  }

  /** Another take begins: its sounds have peaks of their own. */
  function leaveTake() {
    left = Math.max(left, hottest);
    hottest = 0;
    clearTimeout(leaving);
    leaving = self.setTimeout(() => {
      left = 0;
      if (context) ramp(out, gainNow(), AHEAD_S);
    }, LEFT_MS);
  }

  /** @param {BaseAudioContext} sound @param {NonNullable<typeof makeGuard>} make @param {AudioNode} end */
  async function putGuard(sound, make, end) {
    const node = await make(sound);
    guarded = node !== null;
    isWhole = true;
    (node ? out.connect(node) : out).connect(end);
    measure();
    ramp(out, gainNow(), 0);
  }

  /** @param {Target} target @param {number} at sample of the clock */
  function start(target, at) {
    const sound = /** @type {BaseAudioContext} */ (context),
      length = target.buffer.length;
    const source = new AudioBufferSourceNode(sound, { buffer: target.buffer, loop: true });
    const fade = new GainNode(sound, { gain: 0 }),
      trim = new GainNode(sound, { gain: dbToGain(target.gainDb) });
    source.connect(trim).connect(fade).connect(gate);
    source.start(at / sound.sampleRate, samplePlace(at - anchor, sound.sampleRate, RATE, length) / RATE);
    return { source, fade, trim, target };
  }

  /** The next sample of the clock at which something can begin. @param {BaseAudioContext} sound */
  const soon = (sound) => Math.ceil((sound.currentTime + AHEAD_S) * sound.sampleRate);

  /** Fade to the target. @param {boolean} [again] even if the same sound plays: from another place */
  function takeOver(again = false) {
    if (!context || !target || !playing) return;
    if (!again && voice && voice.target.buffer === target.buffer && voice.target.gainDb === target.gainDb)
      return;
    if (context.currentTime < free) {
      // one fade at a time; the newest target follows it
      clearTimeout(timer);
      timer = self.setTimeout(takeOver, (free - context.currentTime) * 1000 + 2, again);
      return;
    }
    const at = soon(context),
      from = at / context.sampleRate,
      before = voice;
    voice = start(target, at);
    voice.fade.gain.setValueCurveAtTime(RISE, from, FADE_S);
    before?.fade.gain.setValueCurveAtTime(FALL, from, FADE_S);
    before?.source.stop(from + FADE_S);
    free = from + FADE_S + 0.001;
  }

  /** The place in the take, s. */
  function position() {
    if (!playing || !context || !voice) return place;
    // a start lies a little ahead of now
    const sample = Math.max(0, context.currentTime * context.sampleRate - anchor);
    return samplePlace(sample, context.sampleRate, RATE, voice.target.buffer.length) / RATE;
  }

  /** @param {number} seconds */
  function setPlace(seconds) {
    const sound = /** @type {BaseAudioContext} */ (context);
    anchor = soon(sound) - Math.round(seconds * sound.sampleRate);
  }

  function begin() {
    // play goes on once it is
    if (!isWhole) return;
    const sound = /** @type {BaseAudioContext} */ (context);
    if (sound.currentTime < free) {
      // the sound stopped a moment ago is still fading
      clearTimeout(timer);
      timer = self.setTimeout(() => playing && !voice && begin(), (free - sound.currentTime) * 1000 + 2);
      return;
    }
    setPlace(place);
    takeOver();
    ramp(gate, 1, rise);
  }

  /**
   * Read and decode a clip, once. A format that the browser cannot decode gives way to the next.
   * @param {Clip} clip
   */
  async function read(clip) {
    let problem;
    for (const file of clip.files) {
      const bytes = await readFile(file, clip);
      try {
        return await decode(bytes);
      } catch (error) {
        problem = error;
      }
    }
    throw problem;
  }

  /** @param {Clip} clip @returns {Promise<AudioBuffer>} */
  function load(clip) {
    let reading = loaded.get(clip.key);
    if (!reading) {
      reading = read(clip);
      loaded.set(clip.key, reading);
      // the next call tries again
      reading.catch(() => loaded.delete(clip.key));
    }
    return reading;
  }

  /**
   * Switch to a decoded sound; at once if it plays.
   * @param {AudioBuffer} buffer @param {number} gainDb @param {boolean} [fromStart]
   */
  function hear(buffer, gainDb, fromStart = false) {
    target = { buffer, gainDb };
    if (fromStart) leaveTake();
    // takes some milliseconds: the music begins after them
    if (isWhole) measure();
    if (fromStart) rewind();
    if (playing && !voice) begin();
    else takeOver();
  }

  function rewind() {
    place = 0;
    if (playing) setPlace(0);
  }

  return {
    get playing() {
      return playing;
    },
    position,
    load,
    hear,
    /**
     * Load a clip and switch to it, unless another has been chosen meanwhile.
     * @param {Clip} clip @param {number} gainDb
     * @param {boolean} [fromStart] of another take: not at the present place
     * @returns {Promise<AudioBuffer | null>} null if another clip was chosen meanwhile
     */
    async choose(clip, gainDb, fromStart = false) {
      const isNewest = turns.begin(),
        head = loaded.has(clip.key) ? null : readHead(clip.files[0]);
      try {
        const whole = load(clip);
        const early =
          head && (await Promise.race([whole.then(() => null), head.then(decodeHead).catch(() => null)]));
        if (early && isNewest()) hear(early, gainDb, fromStart);
        const buffer = await whole;
        if (!isNewest()) return null;
        hear(buffer, gainDb, fromStart && !early);
        return buffer;
      } catch (error) {
        if (!isNewest()) return null;
        throw error;
      }
    },
    /** Drop decoded clips. @param {(key: string) => boolean} needed */
    forget(needed) {
      for (const key of loaded.keys()) if (!needed(key)) loaded.delete(key);
    },
    /** Call in a press or tap. Sound starts once a clip is loaded. */
    async play() {
      const sound = open();
      if (playing) return;
      playing = true;
      onState("playing");
      if (sound instanceof AudioContext && sound.state !== "running") await sound.resume();
      await whole;
      if (playing && !voice && target) begin();
    },
    pause() {
      if (!playing) return;
      place = position();
      playing = false;
      clearTimeout(timer);
      ramp(gate, 0, FALL_S);
      free = /** @type {BaseAudioContext} */ (context).currentTime + FALL_S + FADE_S + AHEAD_S;
      voice?.source.stop(free);
      voice = undefined;
      onState("stopped");
    },
    /** Continue after the system took the sound away. Call in a press or tap. */
    async resume() {
      if (context instanceof AudioContext) await context.resume();
    },
    /** @param {number} seconds */
    seek(seconds) {
      place = seconds;
      if (!playing || !voice) return;
      setPlace(seconds);
      takeOver(true);
    },
    /**
     * @param {number} gain
     * @param {number} [highest]  the most that the peaks of the clips allow without a guard
     */
    setOutput(gain, highest = 1) {
      level = gain;
      most = highest;
      if (context) ramp(out, gainNow(), 0.05);
    },
    /** The clock of the sound, s. It stands still where the device gives none. */
    time: () => context?.currentTime ?? 0,
    /** The peak of the sound that leaves now, full scale 1. */
    peak: () => (playing && tap ? tap.peak() : 0),
    /** Stop for good and release the device. */
    close() {
      clearTimeout(timer);
      if (playing) ramp(gate, 0, FALL_S);
      playing = false;
      const sound = context;
      if (sound instanceof AudioContext)
        setTimeout(() => sound.state !== "closed" && sound.close(), 1000 * (FALL_S + FADE_S));
    },
  };
}

/** @returns {AudioContext} */
function liveContext() {
  try {
    return new AudioContext({ sampleRate: RATE, latencyHint: "interactive" });
  } catch {
    // the device refuses the rate: the browser resamples the clips
    return new AudioContext();
  }
}
