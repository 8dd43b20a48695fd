/** The sound of the page: one AudioContext, one worklet, and the calls that control them. */

import { openDevice } from "./device.js";
import { createTap } from "./tap.js";

/** The rate of stems and filters, Hz. */
export const RATE = 48000;
const PRESENT = "present";
const REST_S = 60;

/**
 * @typedef {object} Listeners  Called when something happens to the sound.
 * @property {(positionS: number) => void} [tick]       About 20 times a second.
 * @property {(id: number) => void} [applied]           The filters of this request sound from now on.
 * @property {(events: number) => void} [underrun]      Total number of gaps in the sound.
 * @property {(gain: number) => void} [guard]           The peak guard has lowered the gain to this.
 * @property {(what: string) => void} [trouble]         Why something cannot be played.
 */

/** Create a player. It makes no sound before `play`. @param {string} worklet address of worklet.js */
export function createEngine(worklet) {
  /** @type {Listeners} */
  const listeners = {};
  /** @type {Promise<AudioWorkletNode> | null} */
  let starting = null;
  /** @type {AudioContext | null} */
  let context = null;
  /** @type {{message: object, transfer: Transferable[]}[]} */
  let waiting = [];
  /** @type {AudioWorkletNode | null} */
  let node = null;
  /** @type {ReturnType<typeof createTap> | null} */
  let tap = null;
  let playing = false,
    output = 0,
    resting = 0,
    rateNow = RATE;
  /** @type {number | null} null if the browser does not report it */
  let underruns = null;

  /** @param {object} message @param {Transferable[]} [transfer] */
  function post(message, transfer = []) {
    if (node) node.port.postMessage(message, transfer);
    else waiting.push({ message, transfer });
  }

  async function start() {
    if (!globalThis.AudioWorkletNode || !globalThis.isSecureContext) {
      throw new Error(
        "The page's address is not secure, so the browser cannot play live. Finished clips still play.",
      );
    }
    context = new AudioContext({ sampleRate: RATE, latencyHint: "interactive" });
    rateNow = context.sampleRate;
    if (rateNow !== RATE) {
      await context.close();
      throw new Error(`The browser plays at ${rateNow} Hz only; the player needs ${RATE} Hz.`);
    }
    await context.audioWorklet.addModule(worklet);
    const made = new AudioWorkletNode(context, "presolder-player", {
      numberOfInputs: 0,
      outputChannelCount: [2],
      processorOptions: { output },
    });
    made.port.onmessage = ({ data }) => hearingOf(data);
    made.onprocessorerror = () => listeners.trouble?.("The player stopped. Reload the page.");
    tap = createTap(context);
    made.connect(tap.node);
    tap.node.connect(context.destination);
    node = made;
    for (const { message, transfer } of waiting) made.port.postMessage(message, transfer);
    waiting = [];
    return made;
  }

  /** @param {any} message */
  function hearingOf(message) {
    if (message.type === "at") {
      if (message.playing) listeners.tick?.(message.position / RATE);
      if (message.guarded < 1) listeners.guard?.(message.guarded);
      countUnderruns();
    } else if (message.type === "applied") listeners.applied?.(message.id);
    else if (message.type === "refused") listeners.trouble?.(`This cannot be played: ${message.what}.`);
    else if (message.type === "muted")
      listeners.trouble?.("Part of the sound could not be computed and is muted.");
  }

  function countUnderruns() {
    const stats = /** @type {any} */ (context)?.playbackStats;
    if (!stats) return;
    const events = stats.underrunEvents;
    if (events > (underruns ?? 0)) listeners.underrun?.(events);
    underruns = events;
  }

  /** @param {string} key @param {Float32Array[]} stems @param {number} [rate] */
  function keep(key, stems, rate = RATE) {
    if (rate !== RATE) throw new RangeError(`stems at ${rate} Hz: the player needs ${RATE} Hz`);
    const own = stems.map((stem) => new Float32Array(stem)); // the page keeps its own copy
    post(
      { type: "keep", key, stems: own },
      own.map((stem) => stem.buffer),
    );
  }

  return {
    /** Start the sound. Call in the press of a key or button. */
    async play() {
      starting ??= start().catch((error) => {
        starting = null;
        throw error;
      });
      await starting;
      clearTimeout(resting);
      if (context) await openDevice(context);
      post({ type: "play" });
      playing = true;
    },
    /** Stop within 10 ms and keep the place. */
    pause() {
      playing = false;
      post({ type: "pause" });
      clearTimeout(resting);
      resting = window.setTimeout(() => {
        if (!playing) void context?.suspend();
      }, 1000 * REST_S);
    },
    get playing() {
      return playing;
    },
    /** The context's rate, Hz. */
    get sampleRate() {
      return rateNow;
    },
    get underruns() {
      return underruns;
    },
    /** The browser's latencies, ms, and its gaps if it reports them. */
    stats() {
      const { baseLatency = NaN, outputLatency = NaN } = context ?? {};
      const gaps = /** @type {any} */ (context)?.playbackStats;
      return {
        baseMs: 1000 * baseLatency,
        outputMs: 1000 * outputLatency,
        gaps: gaps ? gaps.toJSON() : null,
      };
    },
    /** Replace the stems and keep the loop. @param {Float32Array[]} stems @param {number} [rate] */
    setStems(stems, rate = RATE) {
      keep(PRESENT, stems, rate);
      post({ type: "ask", key: PRESENT });
    },
    /**
     * Store stems under a key, for `use`.
     * @param {string} key @param {Float32Array[]} stems @param {number} [rate]
     */
    keep,
    /** @param {string} key */
    drop(key) {
      post({ type: "drop", key });
    },
    /**
     * Switch to stored stems and to a setting's filters at the same moment.
     * @param {string} key @param {ArrayBuffer} frame
     * @param {number} [gainDb]  of settings as wired, from now on
     * @param {import("./path.js").Through} [through]  the way to hear it, from now on
     * @param {import("./hum.js").Hum | null} [hum]  of the room, from now on
     */
    use(key, frame, gainDb, through, hum) {
      post({ type: "ask", key, frame, gainDb, through, hum });
    },
    /**
     * Pass the chain on, before any way that is amplified.
     * @param {import("./chain.js").ChainRecord} chain
     */
    setChain(chain) {
      post({ type: "chain", chain });
    },
    /**
     * Switch to another wiring's stems and filters at the same moment.
     * @param {{stems: Float32Array[], sampleRate?: number, frame: ArrayBuffer}} source
     */
    setSource({ stems, sampleRate = RATE, frame }) {
      keep(PRESENT, stems, sampleRate);
      post({ type: "ask", key: PRESENT, frame });
    },
    /** @param {ArrayBuffer} frame */
    setBank(frame) {
      post({ type: "ask", frame });
    },
    /** @param {number} startS @param {number} endS */
    setLoop(startS, endS) {
      post({ type: "ask", loop: [startS * RATE, endS * RATE] });
    },
    /** @param {number} positionS */
    seek(positionS) {
      post({ type: "ask", seek: Math.round(positionS * RATE) });
    },
    /** Output level, silence before the first call. @param {number} gain */
    setOutput(gain) {
      output = gain;
      post({ type: "output", gain });
    },
    /** The peak of the sound that leaves now, full scale 1. */
    peak: () => (playing && tap ? tap.peak() : 0),
    /** The spectrum of the sound that leaves now, dB for each bin; null if nothing plays. */
    spectrum: () => (playing && tap ? tap.spectrum() : null),
    /** @param {boolean} on true plays every setting equally loud */
    setMatched(on) {
      post({ type: "matched", on });
    },
    /** Set the loudness limit of a change of setting. @param {number} lufs */
    setLoudest(lufs) {
      post({ type: "loudest", lufs });
    },
    /** @param {(positionS: number) => void} fn */
    onTick(fn) {
      listeners.tick = fn;
    },
    /** @param {(id: number) => void} fn */
    onApplied(fn) {
      listeners.applied = fn;
    },
    /** @param {(events: number) => void} fn */
    onUnderrun(fn) {
      listeners.underrun = fn;
    },
    /** @param {(gain: number) => void} fn */
    onGuard(fn) {
      listeners.guard = fn;
    },
    /** @param {(what: string) => void} fn */
    onTrouble(fn) {
      listeners.trouble = fn;
    },
    async close() {
      clearTimeout(resting);
      post({ type: "close" });
      if (context && context.state !== "closed") await context.close();
    },
  };
}
