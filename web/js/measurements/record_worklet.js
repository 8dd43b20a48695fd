/** Sends both channels of what comes in to the page, on the audio thread. */

/** @typedef {{port: MessagePort}} Processor */
const scope =
  /** @type {{AudioWorkletProcessor: new () => Processor, registerProcessor: (name: string, processor:
   *   unknown) => void}} */ (/** @type {unknown} */ (globalThis));

/** Samples sent at a time. */
const MANY = 4096;

class Recorder extends scope.AudioWorkletProcessor {
  constructor() {
    super();
    this.held = [new Float32Array(MANY), new Float32Array(MANY)];
    this.count = 0;
  }
  /** @param {Float32Array[][]} inputs */
  process([input]) {
    if (input.length < 2) return true; // nothing is connected yet
    this.held.forEach((channel, k) => channel.set(input[k], this.count));
    this.count += input[0].length;
    if (this.count < MANY) return true;
    this.port.postMessage(this.held.map((channel) => channel.slice(0, this.count)));
    this.count = 0;
    return true;
  }
}
scope.registerProcessor("record", Recorder);

export {}; // a module of its own: its names are not those of other worklets
