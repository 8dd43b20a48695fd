/** The level at a player's output, for a meter. */

/** Samples that a look takes in: 43 ms at 48 kHz. */
const LOOK = 2048;

/** Make a node that passes the sound on and tells its peak. @param {BaseAudioContext} context */
export function createTap(context) {
  const node = new AnalyserNode(context, { fftSize: LOOK }),
    samples = new Float32Array(LOOK);
  return {
    node,
    /** The largest of the latest samples, full scale 1. */
    peak() {
      node.getFloatTimeDomainData(samples);
      let most = 0;
      for (const sample of samples) most = Math.max(most, Math.abs(sample));
      return most;
    },
  };
}
