/** Hands the samples of an input to the page, in pieces. */

/** Samples of a piece: 43 ms at 48 kHz. */
const PIECE = 2048;

const scope =
  /** @type {{AudioWorkletProcessor: new () => {port: MessagePort}, registerProcessor: (name: string,
   *   processor: unknown) => void}} */ (/** @type {unknown} */ (globalThis));

class Capture extends scope.AudioWorkletProcessor {
  constructor() {
    super();
    this.piece = new Float32Array(PIECE);
    this.at = 0;
  }

  /** @param {Float32Array[][]} inputs */
  process([[input]]) {
    if (!input) return true; // the input has not begun
    for (const sample of input) {
      this.piece[this.at] = sample;
      this.at += 1;
      if (this.at < PIECE) continue;
      this.port.postMessage(this.piece, [this.piece.buffer]);
      this.piece = new Float32Array(PIECE);
      this.at = 0;
    }
    return true;
  }
}

scope.registerProcessor("presolder-capture", Capture);

export {}; // a module, whose names are its own
