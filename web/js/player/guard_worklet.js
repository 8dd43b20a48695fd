/** The peak guard as a node of its own, behind finished clips. */

import { BLOCK } from "./bank.js";
import { PeakGuard } from "./guard.js";

const scope =
  /** @type {{AudioWorkletProcessor: new () => object, registerProcessor: (name: string, processor: unknown)
   *   => void}} */ (/** @type {unknown} */ (globalThis));

class Guard extends scope.AudioWorkletProcessor {
  constructor() {
    super();
    this.guard = new PeakGuard();
    this.samples = new Float64Array(BLOCK);
  }

  /** @param {Float32Array[][]} inputs @param {Float32Array[][]} outputs */
  process([[input]], [[output]]) {
    const n = output.length;
    for (let at = 0; at < n; at += BLOCK) {
      const part = Math.min(BLOCK, n - at);
      for (let i = 0; i < part; i++) this.samples[i] = input ? input[at + i] : 0;
      this.guard.run(this.samples, part);
      output.set(this.samples.subarray(0, part), at);
    }
    return true;
  }
}

scope.registerProcessor("presolder-guard", Guard);
