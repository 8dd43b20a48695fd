/**
 * A guard of plain nodes, where the browser has no worklets: over plain http. What a voice will play is
 * known, so its peaks are measured before they sound: the browser renders the loop through the same nodes,
 * faster than it plays. The beginning is measured before the voice sounds, the rest piece by piece while that
 * plays. A voice never plays what is not measured: its gain falls to zero there, until the measure comes.
 */

import { LOWERED } from "./between.js";
import { follow, gainAt } from "./gain_plan.js";
import { filterNodes } from "./live_voice.js";
import { truePeak } from "./true_peak.js";

/** The beginning of a voice that is measured first, s. */
const HEAD_S = 2;
/** What is measured at once after that, s. */
const PIECE_S = 4;
/** A voice begins once so much of what is measured is still to come, s. */
const LEFT_S = 0.3;
/** The filters delay by less than that, s. */
const EDGE_S = 0.005;
/** Of a change of gain, s. */
const RAMP_S = 0.02;

/**
 * What plays: stems in a loop through filters.
 * @typedef {{stems: AudioBuffer, heard: number[], filters: Float32Array[]}} Loop
 */

/**
 * The true peak of a stretch of a loop through filters, as a context of this rate plays it. It reaches a
 * little into the next stretch: a value between two samples depends on those around them.
 * @param {Loop} loop @param {number} rate @param {number} fromS place in the stems @param {number} seconds
 */
async function peakOf({ stems, heard, filters }, rate, fromS, seconds) {
  if (!heard.length) return 0;
  const taps = Math.max(...filters.map(({ length }) => length)),
    lead = Math.ceil(taps / 128) * 128,
    samples = Math.ceil((seconds + EDGE_S) * rate);
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
  const most = () => (peak > 0 ? Math.min(level, LOWERED / peak) : level),
    node = new GainNode(context, { gain: most() });
  /** Go to the present most, and to silence where the measure ends. @param {number} reached  until now */
  function aim(reached) {
    const now = context.currentTime,
      value = now < reached ? gainAt(node, now) : 0,
      to = most(),
      then = value > to ? Math.min(now + RAMP_S, reached) : now + RAMP_S;
    const plan = [[now, value]];
    if (now + RAMP_S < until - RAMP_S) plan.push([then, to], [until - RAMP_S, to]);
    if (now < until) plan.push([until, 0]);
    follow(node, plan);
  }
  aim(until);
  return {
    node,
    /** Whether the voice has left: nothing more needs to be measured. */
    ended: false,
    /** @param {number} wanted */
    setLevel(wanted) {
      level = wanted;
      aim(until);
    },
    /** More is measured. @param {number} found its peak @param {number} [to] as `until` */
    settle(found, to = Infinity) {
      const reached = until;
      peak = Math.max(peak, found);
      until = to;
      aim(reached);
    },
  };
}

/** @typedef {ReturnType<typeof createCap>} Cap */

/**
 * The cap of a voice whose beginning is measured; it settles by itself as the rest is. Where a measure comes
 * so late that the music has passed it, the next one follows before the voice begins.
 * @param {BaseAudioContext} context @param {Loop} loop @param {number} fromS place in the stems, now
 * @param {() => number} level  wanted @param {() => boolean} goesOn  whether the voice is still wanted
 */
export async function capOf(context, loop, fromS, level, goesOn) {
  const { duration } = loop.stems,
    { sampleRate, currentTime } = context;
  let done = 0,
    peak = 0,
    until = 0;
  /** @param {number} most seconds */
  async function measure(most) {
    const seconds = Math.min(most, duration - done);
    peak = Math.max(peak, await peakOf(loop, sampleRate, fromS + done, seconds));
    done += seconds;
    until = done < duration ? currentTime + done - EDGE_S : Infinity;
  }
  do await measure(HEAD_S);
  while (until < context.currentTime + LEFT_S && goesOn());
  const cap = createCap(context, level(), peak, until);
  async function measureRest() {
    while (until < Infinity && !cap.ended) {
      await measure(PIECE_S);
      cap.settle(peak, until);
    }
  }
  // if it fails, the voice stays silent from there on
  measureRest().catch(() => {});
  return cap;
}
