/** Values between samples, and the ceiling of peaks on and between them. */

/** Highest value that leaves a page, on the samples and between them: -1 dB of full scale. */
export const CEILING = 10 ** (-1 / 20);
/** What peaks are lowered to. Meters interpolate differently, and so does this guard. */
export const LOWERED = 10 ** (-1.15 / 20);
/** Input samples on each side of a value between samples. */
export const SIDE = 8;
/** Values between two samples: true peak is measured at four times the rate (ITU-R BS.1770, annex 2). */
export const BETWEEN = 3;
/** Weights of the values between two samples, 2 SIDE for each. */
export const TAPS = interpolator();

/** A sinc in a window that falls to zero. */
function interpolator() {
  const taps = new Float64Array(BETWEEN * 2 * SIDE);
  for (let k = 0; k < BETWEEN; k++)
    for (let i = 0; i < 2 * SIDE; i++) {
      const away = i - (SIDE - 1) - (k + 1) / (BETWEEN + 1),
        x = Math.PI * away;
      taps[k * 2 * SIDE + i] = (Math.sin(x) / x) * (0.5 + 0.5 * Math.cos(x / SIDE));
    }
  return taps;
}
