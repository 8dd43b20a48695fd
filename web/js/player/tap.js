/** The level and the spectrum at a player's output. */

/** Samples that a look takes in: 43 ms at 48 kHz. */
const LOOK = 2048;
/** Samples that a look at the spectrum takes in: 171 ms at 48 kHz. */
export const SPECTRUM_LOOK = 8192;

/**
 * Make a node that passes the sound on and tells its peak and its spectrum.
 * @param {BaseAudioContext} context
 */
export function createTap(context) {
  const node = new AnalyserNode(context, { fftSize: LOOK }),
    samples = new Float32Array(LOOK),
    levels = new Float32Array(SPECTRUM_LOOK / 2);
  /** @type {AnalyserNode | null} who hides the spectrum does not pay for it */
  let analyser = null;
  return {
    node,
    /** The largest of the latest samples, full scale 1. */
    peak() {
      node.getFloatTimeDomainData(samples);
      let most = 0;
      for (const sample of samples) most = Math.max(most, Math.abs(sample));
      return most;
    },
    /** The levels of the latest spectrum's bins, dB; the same array each time. */
    spectrum() {
      if (!analyser) {
        analyser = new AnalyserNode(context, { fftSize: SPECTRUM_LOOK, smoothingTimeConstant: 0 });
        node.connect(analyser);
      }
      analyser.getFloatFrequencyData(levels);
      return levels;
    },
  };
}
