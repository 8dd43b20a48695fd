/**
 * A guard of plain nodes, where the browser has no worklets: over plain http. What a voice will play is
 * known, so its peaks are measured before they sound: the browser renders the loop through the same nodes,
 * faster than it plays. The beginning is measured before the voice sounds, the rest while that plays. A voice
 * never plays what is not measured: its gain falls to zero there, until the measure comes.
 */

import { LOWERED } from "./between.js";
import { filterNodes } from "./live_voice.js";
import { truePeak } from "./true_peak.js";

/** The beginning of a voice that is measured first, s. */
const HEAD_S = 2;
/** The filters delay by less than that, s. */
const EDGE_S = 0.005;
/** Of a change of gain, s. */
const RAMP_S = 0.02;

/**
 * What plays: stems in a loop through filters.
 * @typedef {{stems: AudioBuffer, heard: number[], filters: Float32Array[]}} Loop
 */

/**
 * The true peak of a stretch of a loop through filters, as a context of this rate plays it.
 * @param {Loop} loop @param {number} rate @param {number} fromS place in the stems @param {number} seconds
 */
async function peakOf({ stems, heard, filters }, rate, fromS, seconds) {
  if (!heard.length) return 0;
  const taps = Math.max(...filters.map(({ length }) => length)),
    lead = Math.ceil(taps / 128) * 128,
    samples = Math.ceil(seconds * rate);
  const context = new OfflineAudioContext(1, lead + samples, rate),
    source = new AudioBufferSourceNode(context, { buffer: stems, loop: true }),
    splitter = new ChannelSplitterNode(context, { numberOfOutputs: stems.numberOfChannels }),
    nodes = filterNodes(context, "convolver", filters);
  source.connect(splitter);
  nodes.inputs.forEach((input, i) => splitter.connect(input, heard[i]));
  nodes.output.connect(context.destination);
  source.start(0, (((fromS - lead / rate) % stems.duration) + stems.duration) % stems.duration);
  return truePeak((await context.startRendering()).getChannelData(0).subarray(lead));
}

/**
 * The gain of a voice, which keeps its peaks below the ceiling.
 * @param {BaseAudioContext} context @param {number} level  wanted
 * @param {number} peak  of what is measured
 * @param {number} [until]  time of the context's clock to which that reaches
 */
export function createCap(context, level, peak, until = Infinity) {
  const node = new GainNode(context, { gain: 0 }),
    { gain } = node;
  const most = () => (peak > 0 ? Math.min(level, LOWERED / peak) : level);

  /** Drop what is planned, from now on. @returns {number} the present gain */
  function begin() {
    const now = context.currentTime,
      value = now < until ? gain.value : 0;
    gain.cancelScheduledValues(now);
    gain.setValueAtTime(value, now);
    return value;
  }
  /** Silence where the measure ends. */
  function plan() {
    if (until === Infinity) return;
    gain.setValueAtTime(most(), until - RAMP_S);
    gain.linearRampToValueAtTime(0, until);
  }
  gain.value = most();
  gain.setValueAtTime(most(), context.currentTime);
  plan();
  return {
    node,
    /** @param {number} wanted */
    setLevel(wanted) {
      level = wanted;
      begin();
      const then = context.currentTime + RAMP_S;
      if (then < until - RAMP_S) {
        gain.linearRampToValueAtTime(most(), then);
        plan();
      } else if (context.currentTime < until) gain.linearRampToValueAtTime(0, until);
    },
    /** The rest is measured too. @param {number} found its peak */
    settle(found) {
      const reached = until,
        value = begin(),
        now = context.currentTime;
      peak = Math.max(peak, found);
      until = Infinity;
      if (now < reached && now + RAMP_S > reached) {
        gain.linearRampToValueAtTime(Math.min(value, most()), reached);
        gain.linearRampToValueAtTime(most(), reached + RAMP_S);
      } else gain.linearRampToValueAtTime(most(), now + RAMP_S);
    },
  };
}

/** @typedef {ReturnType<typeof createCap>} Cap */

/**
 * The cap of a voice whose beginning is measured; it settles by itself once the rest is.
 * @param {BaseAudioContext} context @param {Loop} loop @param {number} fromS place in the stems, now
 * @param {() => number} level  wanted
 */
export async function capOf(context, loop, fromS, level) {
  const { duration } = loop.stems,
    { sampleRate, currentTime } = context,
    whole = duration <= HEAD_S;
  const peak = await peakOf(loop, sampleRate, fromS, whole ? duration : HEAD_S);
  const cap = createCap(context, level(), peak, whole ? Infinity : currentTime + HEAD_S - EDGE_S);
  if (whole) return cap;
  const rest = peakOf(loop, sampleRate, fromS + HEAD_S, duration - HEAD_S);
  rest.then(cap.settle, () => {}); // if it fails, the voice stays silent from there on
  return cap;
}
