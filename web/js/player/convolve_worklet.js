/** Filters of several channels on the audio thread, where the browser's own convolver is coarse. */

import { Convolution } from "./partitions.js";

const QUANTUM = 128;
const audioScope =
  /** @type {{AudioWorkletProcessor: new () => {port: MessagePort}, registerProcessor: (name: string,
   *   processor: unknown) => void}} */ (/** @type {unknown} */ (globalThis));

class Convolver extends audioScope.AudioWorkletProcessor {
  /** @param {{processorOptions: {filters: Float32Array[]}}} options */
  constructor({ processorOptions: { filters } }) {
    super();
    this.convolution = new Convolution(filters, QUANTUM);
    this.open = true;
    this.port.onmessage = () => {
      this.open = false;
    };
  }

  /** @param {Float32Array[][]} inputs a channel an input @param {Float32Array[][]} outputs */
  process(inputs, [[out]]) {
    this.convolution.run(
      inputs.map(([channel]) => channel),
      out,
    );
    return this.open;
  }
}

audioScope.registerProcessor("presolder-convolver", Convolver);
