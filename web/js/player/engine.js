/** The page's sound: one AudioContext, one worklet, and what the page may ask of them. */

import { outputGain } from "./guard.js";

/** The rate that stems and filters are made for. */
export const RATE = 48000;
const FIRST_STAND = 0.5; // -30 dB
const PRESENT = "present";
const REST_S = 60;

/**
 * @typedef {object} Sounding  What has just happened to the sound.
 * @property {(positionS: number) => void} [tick]       About 20 times a second.
 * @property {(id: number) => void} [applied]           A setting's filters are heard from now on.
 * @property {(events: number) => void} [underrun]      The sound has stopped for a moment, so many times in all.
 * @property {(gain: number) => void} [guard]           The peak guard has turned down to this gain.
 * @property {(what: string) => void} [trouble]         Something cannot be played, in words.
 */

/** A player for the page; it makes no sound before `play`. @param {object} [_options] none yet */
export function createEngine(_options = {}) {
  /** @type {Sounding} */
  const told = {};
  /** @type {Promise<AudioWorkletNode> | null} */
  let starting = null;
  /** @type {AudioContext | null} */
  let context = null;
  /** @type {{message: object, transfer: Transferable[]}[]} */
  let waiting = [];
  /** @type {AudioWorkletNode | null} */
  let node = null;
  let playing = false,
    stand = FIRST_STAND,
    resting = 0,
    rateNow = RATE;
  /** @type {number | null} None where the browser does not tell. */
  let underruns = null;

  /** @param {object} message @param {Transferable[]} [transfer] */
  function post(message, transfer = []) {
    if (node) node.port.postMessage(message, transfer);
    else waiting.push({ message, transfer });
  }

  async function start() {
    if (!globalThis.AudioWorkletNode || !globalThis.isSecureContext) {
      throw new Error(
        "This page is not served securely, so the browser cannot play live. Finished clips still play.",
      );
    }
    context = new AudioContext({ sampleRate: RATE, latencyHint: "interactive" });
    rateNow = context.sampleRate;
    if (rateNow !== RATE) {
      await context.close();
      throw new Error(`The browser plays at ${rateNow} Hz only; ${RATE} Hz are needed.`);
    }
    await context.audioWorklet.addModule(new URL("./worklet.js", import.meta.url));
    const made = new AudioWorkletNode(context, "presolder-player", {
      numberOfInputs: 0,
      outputChannelCount: [2],
      processorOptions: { output: outputGain(stand) },
    });
    made.port.onmessage = ({ data }) => heard(data);
    made.onprocessorerror = () => told.trouble?.("The player stopped. Reload the page.");
    made.connect(context.destination);
    node = made;
    for (const { message, transfer } of waiting) made.port.postMessage(message, transfer);
    waiting = [];
    return made;
  }

  /** @param {any} message */
  function heard(message) {
    if (message.type === "at") {
      if (message.playing) told.tick?.(message.position / RATE);
      if (message.guarded < 1) told.guard?.(message.guarded);
      countUnderruns();
    } else if (message.type === "applied") told.applied?.(message.id);
    else if (message.type === "refused") told.trouble?.(`This cannot be played: ${message.what}.`);
    else if (message.type === "muted")
      told.trouble?.("A part of the sound was no number and has been muted.");
  }

  function countUnderruns() {
    const stats = /** @type {any} */ (context)?.playbackStats;
    if (!stats) return;
    const events = stats.underrunEvents;
    if (events > (underruns ?? 0)) told.underrun?.(events);
    underruns = events;
  }

  /** @param {string} key @param {Float32Array[]} stems @param {number} [rate] */
  function keep(key, stems, rate = RATE) {
    if (rate !== RATE) throw new RangeError(`stems at ${rate} Hz: ${RATE} Hz are needed`);
    const own = stems.map((stem) => new Float32Array(stem)); // the page keeps its own
    post(
      { type: "keep", key, stems: own },
      own.map((stem) => stem.buffer),
    );
  }

  return {
    /** Start the sound; to be called from a press of a key or button. */
    async play() {
      starting ??= start().catch((error) => {
        starting = null;
        throw error;
      });
      await starting;
      clearTimeout(resting);
      await context?.resume();
      post({ type: "play" });
      playing = true;
    },
    /** Stop within 10 ms; the place is kept. */
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
    /** What the context plays at, Hz. */
    get sampleRate() {
      return rateNow;
    },
    get underruns() {
      return underruns;
    },
    /** How the browser plays: latencies in ms, and gaps where it tells. */
    stats() {
      const { baseLatency = NaN, outputLatency = NaN } = context ?? {};
      const gaps = /** @type {any} */ (context)?.playbackStats;
      return {
        baseMs: 1000 * baseLatency,
        outputMs: 1000 * outputLatency,
        gaps: gaps ? gaps.toJSON() : null,
      };
    },
    /** Replace what is heard; the loop keeps its time. @param {Float32Array[]} stems @param {number} [rate] */
    setStems(stems, rate = RATE) {
      keep(PRESENT, stems, rate);
      post({ type: "ask", key: PRESENT });
    },
    /** Hold stems ready under a key, for `use`. @param {string} key @param {Float32Array[]} stems @param {number} [rate] */
    keep,
    /** @param {string} key */
    drop(key) {
      post({ type: "drop", key });
    },
    /** Hear kept stems with a setting's filters, both at once. @param {string} key @param {ArrayBuffer} frame */
    use(key, frame) {
      post({ type: "ask", key, frame });
    },
    /** Stems and filters of another wiring, both at once. @param {{stems: Float32Array[], sampleRate?: number, frame: ArrayBuffer}} source */
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
    /** Output level: nothing at 0, then -60 dB to 0 dB. @param {number} to 0 to 1 */
    setOutput(to) {
      stand = Math.max(0, Math.min(1, to));
      post({ type: "output", gain: outputGain(stand) });
    },
    /** @param {boolean} on Every setting at the same loudness. */
    setMatched(on) {
      post({ type: "matched", on });
    },
    /** Loudest that a change of setting may come out. @param {number} lufs */
    setLoudest(lufs) {
      post({ type: "loudest", lufs });
    },
    /** @param {(positionS: number) => void} fn */
    onTick(fn) {
      told.tick = fn;
    },
    /** @param {(id: number) => void} fn */
    onApplied(fn) {
      told.applied = fn;
    },
    /** @param {(events: number) => void} fn */
    onUnderrun(fn) {
      told.underrun = fn;
    },
    /** @param {(gain: number) => void} fn */
    onGuard(fn) {
      told.guard = fn;
    },
    /** @param {(what: string) => void} fn */
    onTrouble(fn) {
      told.trouble = fn;
    },
    async close() {
      clearTimeout(resting);
      post({ type: "close" });
      if (context && context.state !== "closed") await context.close();
    },
  };
}
