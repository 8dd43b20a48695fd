/**
 * Plays looping stems through the filters of any knob values, over plain http too. A change becomes a
 * second voice: it runs silently until its filters are filled, then fades in while the first fades out. One
 * fade runs at a time; of the changes asked for meanwhile the newest wins.
 */

import { openDevice } from "./device.js";
import { CEILING } from "./between.js";
import { ramp } from "./gain_plan.js";
import { samplePlace } from "./level.js";
import { FIR_DELAY, createFirMaker } from "./live_fir.js";
import { valuesAt } from "./live_model.js";
import { filterNodes, meansOf, renderLoop } from "./live_voice.js";
import { capOf, createCap } from "./peak_ahead.js";
import { createTap } from "./tap.js";
import { truePeak } from "./true_peak.js";

/** @import {LiveModel} from "./live_model.js" */
/** @import {FirMaker, Response} from "./live_fir.js" */
/** @import {Filters, Means} from "./live_voice.js" */
/** @import {Cap} from "./peak_ahead.js" */

const STEM_RATE = 48_000;
const TURN_FADE_S = 0.02;
/** Ahead of now, so that a voice is complete when it is scheduled. */
const TURN_AHEAD_S = 0.015;
/** A voice runs so long before its fade. */
const FILLED_S = 0.066;
/** The knobs rest for so long before a loop is rendered, ms. */
const REST_MS = 150;
/** After a fade, until nothing of the voice that has left can sound. */
const AFTER_S = 0.004;
const PLAY_S = 0.03;
const LEVEL_S = 0.05;

/**
 * @typedef {object} Turned  What shall sound.
 * @property {number} id
 * @property {AudioBuffer} stems  a channel a coil, at 48 kHz
 * @property {(heard: number[], responses: Response[], binHz: number) => number} gain  after the filters
 * @property {Float64Array} [behind]  response of what is heard behind the filters, as a row of values
 * @property {(loop: Float32Array, gain: number, goesOn: () => boolean) => Promise<boolean>} [bend]  bends a
 *   loop that has the gain; false if it did not go on
 * @property {LiveModel} model
 * @property {Record<string, number>} knobs
 */
/** @typedef {{stems: AudioBuffer, source: AudioBufferSourceNode, splitter: ChannelSplitterNode}} Feed */
/**
 * cap: keeps the voice's peaks below the ceiling where no guard does.
 * @typedef {{turned: Turned, fade: GainNode, feed: Feed | null, cap: Cap | null, end: () => void}}
 *   TurnedVoice
 */

/**
 * @param {object} options
 * @param {() => BaseAudioContext} [options.context]
 * @param {(context: BaseAudioContext) => Promise<AudioNode | null>} [options.guard]  keeps peaks below the
 *   ceiling; null where it cannot: each voice then gets a cap
 * @param {string} [options.worklet]  address of convolve_worklet.js
 * @param {(context: BaseAudioContext, seconds: number, then: () => void) => () => void} [options.wait]
 *   returns what stops the wait
 * @param {() => number | null} [options.takeFrom]  called when a whole loop is computed and begins: ends
 *   another sound that went on until then, and returns its place, s; null if none did
 * @param {(id: number) => void} [options.onApplied]  this one sounds from now on
 * @param {(held: boolean) => void} [options.onHeld]  whether the system has taken the sound away
 */
export function createLivePlayer({
  context: make = turnContext,
  guard: makeGuard,
  worklet,
  wait = (_, seconds, then) => {
    const timer = setTimeout(then, 1000 * seconds);
    return () => clearTimeout(timer);
  },
  takeFrom = () => null,
  onApplied = () => {},
  onHeld = () => {},
} = {}) {
  /** @type {BaseAudioContext | undefined} */
  let context;
  /** @type {GainNode} */
  let gate;
  /** @type {GainNode} */
  let out;
  /** @type {ReturnType<typeof createTap> | undefined} */
  let tap;
  /** @type {Promise<void> | undefined} */
  let opening;
  let stopWaiting = () => {};
  /** @type {Means} */
  let means = "convolver";
  /** @type {TurnedVoice | null} */
  let voice = null;
  /** @type {TurnedVoice | null} The voice that fades out. */
  let leaving = null;
  /** @type {object | null} The change in hand. */
  let busy = null;
  /** @type {Turned | undefined} */
  let wish;
  /** @type {WeakMap<LiveModel, FirMaker>} */
  const makers = new WeakMap();
  /**
   * Computed loops: another place or a pause needs none anew.
   * @type {WeakMap<Turned, {buffer: AudioBuffer, peak: number}>}
   */
  const loops = new WeakMap();
  /** Sample of the context's clock at which the first sample of the stems would have sounded. */
  let anchor = 0;
  let place = 0,
    length = 1,
    level = 0,
    guarded = false,
    playing = false,
    ready = false,
    jump = false,
    resting = 0,
    rendering = 0;

  /** Call in a press or tap, or browsers allow no sound. */
  function open() {
    opening ??= build().catch((error) => {
      if (context instanceof AudioContext) void context.close();
      opening = context = undefined;
      playing = false;
      throw error;
    });
    return opening;
  }

  async function build() {
    const sound = make();
    context = sound;
    out = new GainNode(sound, { gain: 0 });
    gate = new GainNode(sound, { gain: 0 });
    gate.connect(out);
    tap = createTap(sound);
    tap.node.connect(sound.destination);
    sound.addEventListener("statechange", () => onHeld(playing && sound.state !== "running"));
    // in the tap
    const started = sound instanceof AudioContext ? openDevice(sound) : undefined;
    const [node, found] = await Promise.all([
      makeGuard ? makeGuard(sound) : null,
      meansOf(sound, worklet),
      started,
    ]);
    means = found;
    guarded = node !== null;
    if (node) out.connect(node).connect(tap.node);
    else clipped(sound, out).connect(tap.node);
    ready = true;
    ramp(out, gainNow(), 0);
  }

  /** Whether the whole loop of what is wished for is computed. */
  const renders = () => means === "rendered" || wish?.bend !== undefined;

  /** Without a guard each voice has its own. */
  const gainNow = () => (guarded ? level : 1);

  /** The place of a sample of the clock, in samples of the stems. @param {number} at */
  const placeAt = (at) =>
    samplePlace(at - anchor, /** @type {BaseAudioContext} */ (context).sampleRate, STEM_RATE, length);

  /** @param {AudioBuffer} buffer @param {number} at sample of the clock @param {number} ahead samples */
  function startLoop(buffer, at, ahead) {
    const sound = /** @type {BaseAudioContext} */ (context);
    const source = new AudioBufferSourceNode(sound, { buffer, loop: true });
    source.start(at / sound.sampleRate, placeAt(at + ahead) / STEM_RATE);
    return source;
  }

  /** @param {AudioBuffer} stems @param {number} at @returns {Feed} */
  function startFeed(stems, at) {
    const channels = stems.numberOfChannels;
    const splitter = new ChannelSplitterNode(/** @type {BaseAudioContext} */ (context), {
      numberOfOutputs: channels,
    });
    const source = startLoop(stems, at, FIR_DELAY);
    source.connect(splitter);
    return { stems, source, splitter };
  }

  /** @param {Turned} turned */
  function filtersOf({ model, knobs, gain, behind }) {
    const rate = /** @type {BaseAudioContext} */ (context).sampleRate,
      maker = makers.get(model) ?? createFirMaker(model.hz, rate);
    makers.set(model, maker);
    const values = valuesAt(model, knobs),
      responses = maker.responses(values);
    const total = gain(values.heard, responses, maker.binHz);
    const filters = maker.filters(behind ? maker.through(responses, behind) : responses, total);
    return { heard: values.heard, filters, total };
  }

  /**
   * A voice on the running stems if they are the same and the place stays, else on its own.
   * @param {Turned} turned @param {ReturnType<typeof filtersOf>} made @param {Cap | null} cap
   * @returns {TurnedVoice}
   */
  function nodesFor(turned, { heard, filters }, cap) {
    const sound = /** @type {BaseAudioContext} */ (context),
      at = soon();
    const nodes = filterNodes(sound, means, filters),
      fade = new GainNode(sound, { gain: 0 });
    const running = !jump && voice?.feed?.stems === turned.stems ? voice.feed : null;
    const feed = running ?? startFeed(turned.stems, at);
    nodes.inputs.forEach((input, i) => feed.splitter.connect(input, heard[i], means === "worklet" ? i : 0));
    (cap ? nodes.output.connect(cap.node) : nodes.output).connect(fade).connect(gate);
    const end = () => {
      if (cap) cap.ended = true;
      endOf(nodes, fade, feed, heard);
    };
    return { turned, fade, feed, cap, end };
  }

  /**
   * A voice whose peaks are measured before they sound.
   * @param {Turned} turned @param {() => boolean} goesOn
   */
  async function cappedFor(turned, goesOn) {
    const sound = /** @type {BaseAudioContext} */ (context),
      made = filtersOf(turned),
      loop = { stems: turned.stems, ...made };
    while (goesOn()) {
      const from = anchor,
        at = placeAt(Math.max(sound.currentTime * sound.sampleRate, anchor)) / STEM_RATE;
      // else it plays from another place, or not at all
      const goes = () => goesOn() && anchor === from;
      const cap = await capOf(sound, loop, at, () => level, goes);
      if (goes()) return nodesFor(turned, made, cap);
      cap.ended = true;
    }
    return null;
  }

  /** @param {Filters} nodes @param {GainNode} fade @param {Feed} feed @param {number[]} heard */
  function endOf(nodes, fade, feed, heard) {
    fade.disconnect();
    if (voice?.feed === feed) {
      nodes.inputs.forEach((input, i) => feed.splitter.disconnect(input, heard[i]));
    } else {
      feed.source.stop();
      feed.splitter.disconnect();
    }
    nodes.end();
  }

  /** Compute the whole loop of what is turned; null if it is not wanted any more. @param {Turned} turned */
  async function renderedOf(turned) {
    const { heard, filters, total } = filtersOf(turned),
      mine = (rendering += 1),
      goesOn = () => mine === rendering && playing;
    const samples = await renderLoop(
      heard.map((k) => turned.stems.getChannelData(k)),
      filters,
      goesOn,
    );
    if (!samples || (turned.bend && !(await turned.bend(samples, total, goesOn)))) return null;
    const buffer = new AudioBuffer({ length: turned.stems.length, sampleRate: STEM_RATE });
    if (heard.length) buffer.copyToChannel(samples, 0);
    const loop = { buffer, peak: guarded ? 0 : truePeak(samples) };
    loops.set(turned, loop);
    return loop;
  }

  /** @param {Turned} turned @param {() => boolean} goesOn @returns {Promise<TurnedVoice | null>} */
  async function renderedFor(turned, goesOn) {
    const sound = /** @type {BaseAudioContext} */ (context),
      loop = loops.get(turned) ?? (await renderedOf(turned));
    if (!loop || !goesOn()) return null;
    const from = takeFrom();
    if (from !== null) setPlace(from);
    const source = startLoop(loop.buffer, soon(), FIR_DELAY),
      fade = new GainNode(sound, { gain: 0 }),
      cap = guarded ? null : createCap(sound, level, loop.peak);
    (cap ? source.connect(cap.node) : source).connect(fade).connect(gate);
    return {
      turned,
      fade,
      feed: null,
      cap,
      end() {
        source.stop();
        fade.disconnect();
      },
    };
  }

  /** The next sample of the clock at which something can begin. */
  const soon = () => {
    const { currentTime, sampleRate } = /** @type {BaseAudioContext} */ (context);
    return Math.ceil((currentTime + TURN_AHEAD_S) * sampleRate);
  };

  /** Fade to what is wished for, unless a fade runs: its end looks again. */
  async function takeOver() {
    if (!playing || !ready || busy || !wish) return;
    const turned = wish;
    if (voice?.turned === turned && !jump) return;
    const mine = {};
    busy = mine;
    const sound = /** @type {BaseAudioContext} */ (context),
      // a pause takes the change out of hand
      goesOn = () => playing && busy === mine;
    let next = null;
    const rendered = renders();
    try {
      next = rendered
        ? await renderedFor(turned, goesOn)
        : guarded
          ? nodesFor(turned, filtersOf(turned), null)
          : await cappedFor(turned, goesOn);
    } finally {
      if (!next && busy === mine) busy = null;
    }
    if (!next || !goesOn()) return next?.end();
    jump = false;
    leaving = voice;
    const before = voice,
      filled = rendered ? 0 : FILLED_S;
    voice = next;
    const from = (soon() + Math.ceil(filled * sound.sampleRate)) / sound.sampleRate,
      curve = riseOf(sound.sampleRate);
    next.fade.gain.setValueCurveAtTime(curve, from, TURN_FADE_S);
    before?.fade.gain.setValueCurveAtTime(
      curve.map((gain) => 1 - gain),
      from,
      TURN_FADE_S,
    );
    whenPast(from + TURN_FADE_S + AFTER_S, () => {
      before?.end();
      leaving = busy = null;
      onApplied(turned.id);
      void takeOver();
    });
  }

  /**
   * Act at a time of the sound's clock, which stays behind on a busy machine.
   * @param {number} time @param {() => void} act
   */
  function whenPast(time, act) {
    const sound = /** @type {BaseAudioContext} */ (context);
    stopWaiting = wait(sound, Math.max(time - sound.currentTime, AFTER_S), () => {
      if (sound.currentTime >= time) act();
      else whenPast(time, act);
    });
  }

  /** Look again once the knobs rest, where each look costs a whole loop. */
  function look() {
    if (!renders()) return void takeOver();
    // what is being rendered is old
    rendering += 1;
    clearTimeout(resting);
    resting = self.setTimeout(() => void takeOver(), REST_MS);
  }
  function position() {
    if (!playing || !ready || !voice) return place;
    const { currentTime, sampleRate } = /** @type {BaseAudioContext} */ (context);
    return placeAt(Math.max(currentTime * sampleRate, anchor)) / STEM_RATE;
  }

  /** @param {number} seconds */
  function setPlace(seconds) {
    const { sampleRate } = /** @type {BaseAudioContext} */ (context);
    anchor = soon() - Math.round(seconds * sampleRate);
  }

  function begin() {
    setPlace(place);
    jump = true;
    ramp(gate, 1, PLAY_S);
    return takeOver();
  }

  return {
    get playing() {
      return playing;
    },
    /** How settings are made to sound here; known once it has played. */
    get means() {
      return means;
    },
    position,
    /** @param {Turned} turned */
    use(turned) {
      wish = turned;
      length = turned.stems.length;
      look();
    },
    /** Play nothing until a setting is chosen again. */
    forget() {
      wish = undefined;
    },
    /** Call in a press or tap. */
    async play() {
      const before = playing;
      playing = true;
      await open();
      if (context instanceof AudioContext && context.state !== "running") await openDevice(context);
      if (playing && !before) await begin();
    },
    pause() {
      if (!playing) return;
      place = position();
      playing = false;
      stopWaiting();
      clearTimeout(resting);
      if (!ready) return;
      ramp(gate, 0, PLAY_S);
      const last = [leaving, voice];
      voice = leaving = busy = null;
      self.setTimeout(() => last.forEach((one) => one?.end()), 1000 * (PLAY_S + TURN_FADE_S));
    },
    /** @param {number} seconds */
    seek(seconds) {
      place = seconds;
      if (!playing || !ready) return;
      setPlace(seconds);
      jump = true;
      void takeOver();
    },
    /** @param {number} gain */
    setOutput(gain) {
      level = gain;
      if (!ready) return;
      ramp(out, gainNow(), LEVEL_S);
      for (const one of [voice, leaving]) one?.cap?.setLevel(gain);
    },
    /** The peak of the sound that leaves now, full scale 1. */
    peak: () => (playing && tap ? tap.peak() : 0),
    async close() {
      playing = false;
      stopWaiting();
      clearTimeout(resting);
      if (context instanceof AudioContext && context.state !== "closed") await context.close();
    },
  };
}

/** A last resort where no guard runs: what exceeds the ceiling is cut off. Below it nothing changes.
 * @param {BaseAudioContext} sound @param {AudioNode} from */
function clipped(sound, from) {
  const shaper = new WaveShaperNode(sound, { curve: Float32Array.of(-1, 1) });
  return from
    .connect(new GainNode(sound, { gain: 1 / CEILING }))
    .connect(shaper)
    .connect(new GainNode(sound, { gain: CEILING }));
}

/** Gains of a fade in, one a sample. @param {number} rate */
function riseOf(rate) {
  const points = Math.round(TURN_FADE_S * rate) + 1;
  return Float32Array.from({ length: points }, (_, k) => 0.5 - 0.5 * Math.cos((Math.PI * k) / (points - 1)));
}

/** @returns {AudioContext} */
function turnContext() {
  try {
    return new AudioContext({ sampleRate: STEM_RATE, latencyHint: "interactive" });
  } catch {
    // the device refuses the rate: the browser resamples the stems
    return new AudioContext();
  }
}
