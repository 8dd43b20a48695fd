/** Record both inputs of an audio interface in the page, where the browser lets a page hear them whole. */

import { PROCESSING } from "../player/capture.js";

/** Seconds recorded: four of the tone, and room for both ends. */
export const RECORD_S = 6;
/** How much later the samples may have come, s. */
const LATE_S = 10;
/** Samples of both channels as the worklet sends them. */
/** @typedef {[Float32Array, Float32Array]} Block */

/** Processing that would change what is read, switched off. */
const PLAIN = Object.fromEntries(PROCESSING.map((name) => [name, false]));

/**
 * Why a browser's stream does not serve; empty if it does.
 * @param {MediaTrackSettings} settings
 */
export function refusalOf(settings) {
  if (PROCESSING.some((name) => settings[name] === true))
    return "The browser changes what it records (echo, noise or level), and does not let the page switch that off. Record with another program and bring the file.";
  if (settings.channelCount !== undefined && settings.channelCount < 2)
    return "The browser gives one channel of this input. Choose the interface as the browser's input, or record with another program and bring a file of two channels.";
  return "";
}

/**
 * Record both channels for `RECORD_S` seconds.
 * @param {string} name  of the file, without ending
 * @param {AbortSignal} signal
 * @returns {Promise<File>}
 */
export async function record(name, signal) {
  const stream = await navigator.mediaDevices
    .getUserMedia({ audio: { ...PLAIN, channelCount: { ideal: 2 } } })
    .catch((error) => {
      throw new Error(
        error instanceof DOMException && error.name === "NotAllowedError"
          ? "The browser was not allowed to record. Allow the microphone for this page, or bring a file."
          : "The browser found no input to record from. Plug the interface in, or bring a file.",
      );
    });
  const [track] = stream.getAudioTracks();
  const refused = refusalOf(track.getSettings());
  const context = new AudioContext(),
    over = new AbortController();
  try {
    signal.throwIfAborted();
    if (refused) throw new Error(refused);
    const blocks = await Promise.race([
      gather(context, stream),
      refuseWithoutSound(track, AbortSignal.any([signal, over.signal])),
    ]);
    return wavFile(blocks, context.sampleRate, `${name}.wav`);
  } finally {
    over.abort();
    for (const one of stream.getTracks()) one.stop();
    await context.close();
  }
}

/**
 * Refuse an input that goes away or sends nothing; whoever waits for its samples would wait for ever.
 * @param {MediaStreamTrack} track @param {AbortSignal} signal
 * @returns {Promise<never>}
 */
const refuseWithoutSound = (track, signal) =>
  new Promise((_, reject) => {
    const late = setTimeout(
      () => reject(new Error("The input sends no sound. Plug the interface in again, or bring a file.")),
      1000 * (RECORD_S + LATE_S),
    );
    track.onended = () =>
      reject(
        new Error("The input has gone: it was unplugged, or the browser took it away. Nothing was kept."),
      );
    signal.addEventListener("abort", () => {
      clearTimeout(late);
      reject(new DOMException("stopped", "AbortError"));
    });
  });

/**
 * @param {AudioContext} context @param {MediaStream} stream
 * @returns {Promise<Block[]>}
 */
async function gather(context, stream) {
  await context.audioWorklet.addModule(new URL("./record_worklet.js", import.meta.url).href);
  const source = context.createMediaStreamSource(stream);
  const node = new AudioWorkletNode(context, "record", {
    channelCount: 2,
    channelCountMode: "explicit",
    channelInterpretation: "discrete",
  });
  await context.resume();
  /** @type {Block[]} */
  const blocks = [];
  const wanted = RECORD_S * context.sampleRate;
  let count = 0;
  return new Promise((resolve) => {
    node.port.onmessage = ({ data }) => {
      blocks.push(data);
      count += data[0].length;
      if (count >= wanted) {
        source.disconnect();
        node.port.onmessage = null;
        resolve(blocks);
      }
    };
    source.connect(node).connect(context.destination); // it is pulled, and hands on silence
  });
}

/**
 * Two channels as a WAV file of 32-bit floats.
 * @param {Block[]} blocks @param {number} rate @param {string} name
 */
export function wavFile(blocks, rate, name) {
  const frames = blocks.reduce((sum, [one]) => sum + one.length, 0),
    bytes = 8 * frames;
  const view = new DataView(new ArrayBuffer(44 + bytes));
  const text = (/** @type {number} */ at, /** @type {string} */ word) =>
    [...word].forEach((sign, k) => view.setUint8(at + k, sign.charCodeAt(0)));
  text(0, "RIFF");
  view.setUint32(4, 36 + bytes, true);
  text(8, "WAVEfmt ");
  view.setUint32(16, 16, true);
  view.setUint16(20, 3, true); // IEEE float
  view.setUint16(22, 2, true);
  view.setUint32(24, rate, true);
  view.setUint32(28, 8 * rate, true);
  view.setUint16(32, 8, true);
  view.setUint16(34, 32, true);
  text(36, "data");
  view.setUint32(40, bytes, true);
  let at = 44;
  for (const [one, two] of blocks)
    for (let k = 0; k < one.length; k += 1, at += 8) {
      view.setFloat32(at, one[k], true);
      view.setFloat32(at + 4, two[k], true);
    }
  return new File([view.buffer], name, { type: "audio/wav" });
}
