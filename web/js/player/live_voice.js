/**
 * Voices of stems through filters, in one audio graph: a convolver a coil, or what takes its place where the
 * browser's convolver is coarse.
 */

import { Convolution } from "./partitions.js";

/** A unit impulse must give back a sine within this, dB. */
const COARSE_DB = -80;
const TEST = { hz: 997, rate: 48_000, samples: 9600, taps: 2048 };
/** Samples that a loop is rendered by, and for how long before the page gets its turn, ms. */
const RENDER_BLOCK = 2048,
  RENDER_MS = 12;

/**
 * How a setting is made to sound. convolver: nodes of the browser. worklet: ours, on the audio thread.
 * rendered: the whole loop is computed once the knobs rest.
 * @typedef {"convolver" | "worklet" | "rendered"} Means
 */
/** @typedef {{inputs: AudioNode[], output: AudioNode, end: () => void}} Filters */

/** Error of the browser's convolver, dB re a sine. */
export async function convolverErrorDb() {
  const { hz, rate, samples, taps } = TEST,
    context = new OfflineAudioContext(1, samples, rate);
  const sine = Float32Array.from(
    { length: samples },
    (_, n) => 0.5 * Math.sin((2 * Math.PI * hz * n) / rate),
  );
  const buffer = new AudioBuffer({ length: samples, sampleRate: rate }),
    impulse = new AudioBuffer({ length: taps, sampleRate: rate });
  buffer.copyToChannel(sine, 0);
  impulse.copyToChannel(Float32Array.of(1), 0);
  const source = new AudioBufferSourceNode(context, { buffer });
  source
    .connect(new ConvolverNode(context, { buffer: impulse, disableNormalization: true }))
    .connect(context.destination);
  source.start();
  const heard = (await context.startRendering()).getChannelData(0);
  let wrong = 0,
    right = 1e-30;
  for (let n = 0; n < samples; n++) {
    wrong += (heard[n] - sine[n]) ** 2;
    right += sine[n] ** 2;
  }
  const error = 10 * Math.log10(wrong / right + 1e-20);
  return Number.isNaN(error) ? 0 : error;
}

/**
 * The best means in a context.
 * @param {BaseAudioContext} context
 * @param {string} [worklet] address of convolve_worklet.js
 * @returns {Promise<Means>}
 */
export async function meansOf(context, worklet) {
  if ((await convolverErrorDb().catch(() => 0)) <= COARSE_DB) return "convolver";
  if (!worklet || !context.audioWorklet || !globalThis.AudioWorkletNode) return "rendered";
  try {
    await context.audioWorklet.addModule(worklet);
    return "worklet";
  } catch {
    return "rendered";
  }
}

/**
 * Nodes that filter a channel each and add up.
 * @param {BaseAudioContext} context @param {Means} means @param {Float32Array[]} filters
 * @returns {Filters}
 */
export function filterNodes(context, means, filters) {
  if (means === "worklet" && filters.length) {
    const node = new AudioWorkletNode(context, "presolder-convolver", {
      numberOfInputs: filters.length,
      outputChannelCount: [1],
      channelCount: 1,
      channelCountMode: "explicit",
      processorOptions: { filters },
    });
    return { inputs: filters.map(() => node), output: node, end: () => node.port.postMessage("end") };
  }
  const output = new GainNode(context);
  const inputs = filters.map((filter) => {
    const buffer = new AudioBuffer({ length: filter.length, sampleRate: context.sampleRate });
    buffer.copyToChannel(/** @type {Float32Array<ArrayBuffer>} */ (filter), 0);
    const node = new ConvolverNode(context, { buffer, disableNormalization: true });
    node.connect(output);
    return node;
  });
  return { inputs, output, end: () => {} };
}

/**
 * A loop of stems through filters, as the convolver of a looping source would give it.
 * @param {Float32Array[]} stems of the coils that are heard @param {Float32Array[]} filters
 * @param {() => boolean} goesOn asked now and then
 * @returns {Promise<Float32Array<ArrayBuffer> | null>} null if it did not go on
 */
export async function renderLoop(stems, filters, goesOn) {
  const length = stems[0]?.length ?? 1,
    out = new Float32Array(length),
    convolution = new Convolution(filters, RENDER_BLOCK);
  const inputs = stems.map(() => new Float32Array(RENDER_BLOCK)),
    block = new Float32Array(RENDER_BLOCK);
  const lead = Math.ceil((filters[0]?.length ?? 0) / RENDER_BLOCK) * RENDER_BLOCK;
  let since = performance.now();
  for (let at = -lead; at < length; at += RENDER_BLOCK) {
    inputs.forEach((input, k) => {
      for (let i = 0; i < RENDER_BLOCK; i++) input[i] = stems[k][(((at + i) % length) + length) % length];
    });
    convolution.run(inputs, block);
    if (at >= 0) out.set(block.subarray(0, Math.min(RENDER_BLOCK, length - at)), at);
    if (performance.now() - since > RENDER_MS) {
      await new Promise((resolve) => setTimeout(resolve));
      if (!goesOn()) return null;
      since = performance.now();
    }
  }
  return out;
}
