/**
 * Plays finished clips of one take, sample-locked: whichever clip is heard, it stands where the one before stood.
 * Works without AudioWorklet, so over plain http too. One voice sounds; another takes over by a fade of 20 ms whose
 * two gains always add up to one.
 */

import { dbToGain, samplePlace } from "./level.js";

const RATE = 48_000;
const FADE_S = 0.02;
/** Ahead of now, so that both voices are scheduled before either fade begins. */
const AHEAD_S = 0.015;
/** Play comes up slowly, for ears that do not know yet how loud their speakers are. */
const RISE_S = 0.5;
const FALL_S = 0.03;
const POINTS = 65;
const RISE = Float32Array.from(
  { length: POINTS },
  (_, k) => 0.5 - 0.5 * Math.cos((Math.PI * k) / (POINTS - 1)),
);
const FALL = RISE.map((gain) => 1 - gain);

/** @typedef {{buffer: AudioBuffer, gainDb: number}} Heard */
/** @typedef {{source: AudioBufferSourceNode, fade: GainNode, trim: GainNode, heard: Heard}} Voice */
/** @typedef {"stopped" | "playing" | "held"} State  held: the system took the sound away, as for a telephone call */

/** Decode a file at 48 kHz, whatever the device's rate, before any sound may be made. @param {ArrayBuffer} bytes */
export const decode = (bytes) => new OfflineAudioContext(1, 1, RATE).decodeAudioData(bytes);

/**
 * @param {{onState?: (state: State) => void, context?: () => BaseAudioContext, rise?: number}} [options]
 */
export function createClips({ onState = () => {}, context: make = liveContext, rise = RISE_S } = {}) {
  /** @type {BaseAudioContext | undefined} */
  let context;
  /** @type {GainNode} */
  let gate;
  /** @type {GainNode} */
  let out;
  /** @type {Voice | undefined} */
  let voice;
  /** @type {Heard | undefined} */
  let wanted;
  /** Sample of the context's clock at which the take's first sample would have sounded. */
  let anchor = 0;
  let place = 0,
    level = 0,
    playing = false,
    free = 0,
    timer = 0;

  /** Called in the tap that plays, or browsers keep it silent. */
  function open() {
    if (context) return context;
    context = make();
    out = new GainNode(context, { gain: level });
    gate = new GainNode(context, { gain: 0 });
    gate.connect(out).connect(context.destination);
    context.addEventListener("statechange", () => {
      if (playing && context?.state !== "running") onState("held");
      else if (playing) onState("playing");
    });
    return context;
  }

  /** @param {Heard} heard @param {number} at sample of the clock */
  function start(heard, at) {
    const sound = /** @type {BaseAudioContext} */ (context),
      length = heard.buffer.length;
    const source = new AudioBufferSourceNode(sound, { buffer: heard.buffer, loop: true });
    const fade = new GainNode(sound, { gain: 0 }),
      trim = new GainNode(sound, { gain: dbToGain(heard.gainDb) });
    source.connect(trim).connect(fade).connect(gate);
    source.start(at / sound.sampleRate, samplePlace(at - anchor, sound.sampleRate, RATE, length) / RATE);
    return { source, fade, trim, heard };
  }

  /** The next sample of the clock at which something can begin. @param {BaseAudioContext} sound */
  const soon = (sound) => Math.ceil((sound.currentTime + AHEAD_S) * sound.sampleRate);

  /** Hand over to what is wanted. @param {boolean} [again] though it is the same sound: from another place */
  function takeOver(again = false) {
    if (!context || !wanted || !playing) return;
    if (!again && voice && voice.heard.buffer === wanted.buffer && voice.heard.gainDb === wanted.gainDb)
      return;
    if (context.currentTime < free) {
      // one fade at a time; the newest wish is done when it is over
      clearTimeout(timer);
      timer = self.setTimeout(takeOver, (free - context.currentTime) * 1000 + 2, again);
      return;
    }
    const at = soon(context),
      from = at / context.sampleRate,
      before = voice;
    voice = start(wanted, at);
    voice.fade.gain.setValueCurveAtTime(RISE, from, FADE_S);
    before?.fade.gain.setValueCurveAtTime(FALL, from, FADE_S);
    before?.source.stop(from + FADE_S);
    free = from + FADE_S + 0.001;
  }

  /** @param {GainNode} node @param {number} to @param {number} seconds */
  function ramp(node, to, seconds) {
    const now = /** @type {BaseAudioContext} */ (context).currentTime;
    node.gain.cancelScheduledValues(now);
    node.gain.setValueAtTime(node.gain.value, now);
    node.gain.linearRampToValueAtTime(to, now + seconds);
  }

  /** Where the take stands, s. */
  function position() {
    if (!playing || !context || !voice) return place;
    const sample = context.currentTime * context.sampleRate - anchor;
    return samplePlace(sample, context.sampleRate, RATE, voice.heard.buffer.length) / RATE;
  }

  /** @param {number} seconds */
  function stand(seconds) {
    const sound = /** @type {BaseAudioContext} */ (context);
    anchor = soon(sound) - Math.round(seconds * sound.sampleRate);
  }

  function begin() {
    const sound = /** @type {BaseAudioContext} */ (context);
    if (sound.currentTime < free) {
      // what was stopped a moment ago is still fading away
      clearTimeout(timer);
      timer = self.setTimeout(() => playing && !voice && begin(), (free - sound.currentTime) * 1000 + 2);
      return;
    }
    stand(place);
    takeOver();
    ramp(gate, 1, rise);
  }

  return {
    get playing() {
      return playing;
    },
    position,
    /** What is to be heard; at once if it plays. @param {AudioBuffer} buffer @param {number} gainDb */
    hear(buffer, gainDb) {
      wanted = { buffer, gainDb };
      if (playing && !voice) begin();
      else takeOver();
    },
    /** In a tap. It begins when there is something to hear. */
    async play() {
      const sound = open();
      if (playing) return;
      playing = true;
      onState("playing");
      if (sound instanceof AudioContext && sound.state !== "running") await sound.resume();
      if (playing && !voice && wanted) begin();
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
    /** Make the sound go on after the system took it away; in a tap. */
    async resume() {
      if (context instanceof AudioContext) await context.resume();
    },
    /** @param {number} seconds */
    seek(seconds) {
      place = seconds;
      if (!playing || !voice) return;
      stand(seconds);
      takeOver(true);
    },
    /** Another take: from its beginning. */
    rewind() {
      place = 0;
      if (playing) stand(0);
    },
    /** @param {number} gain 0 to 1 */
    setOutput(gain) {
      level = gain;
      if (context) ramp(out, gain, 0.05);
    },
    /** Fall silent for good and give the device back. */
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
    return new AudioContext(); // a device that does not take our rate; the clips are resampled as they play
  }
}
