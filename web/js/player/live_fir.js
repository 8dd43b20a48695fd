/**
 * FIR filters of a setting, from the values of its polynomials.
 *
 * Both polynomials are interpolated over the logarithm of the frequency, by six neighbours each; their
 * ratio is the response. Above the band it fades to zero. All filters delay by FIR_DELAY samples, so that
 * what rings ahead of a band-limited sound is kept.
 */

import { Fourier } from "./fft.js";

/** @import {LiveModel, Values} from "./live_model.js" */

/** Length of the filters, samples: 64 ms at 48 kHz. A low cut rings longer than 43 ms by more than -80 dB. */
export const FIR_TAPS = 3072;
export const FIR_DELAY = 32;
const SPECTRUM = 16384;
const NEIGHBOURS = 6;
/** The band ends between these parts of the rate: 20 and 23.5 kHz at 48 kHz. */
const BAND_END = [20 / 48, 23.5 / 48];
/** Samples over which the first taps rise and the last ones fall. */
const FADED = [12, 384];

/** @typedef {ReturnType<typeof createFirMaker>} FirMaker */
/** @typedef {{real: Float64Array, imag: Float64Array}} Response  at every bin */

/** @param {[number, number, number]} hz of the model @param {number} rate Hz */
export function createFirMaker(hz, rate) {
  const half = SPECTRUM / 2,
    fourier = new Fourier(SPECTRUM),
    grid = neighboursOf(hz, rate);
  const turnRe = new Float64Array(half),
    turnIm = new Float64Array(half),
    shape = windowOf();
  for (let k = 0; k < half; k++) {
    const angle = (-2 * Math.PI * k * FIR_DELAY) / SPECTRUM;
    turnRe[k] = bandAt(k / SPECTRUM) * Math.cos(angle);
    turnIm[k] = bandAt(k / SPECTRUM) * Math.sin(angle);
  }
  const re = new Float64Array(SPECTRUM),
    im = new Float64Array(SPECTRUM);

  /** A polynomial's value at every bin. @param {Float64Array} row */
  function spread(row) {
    const count = hz[2],
      real = new Float64Array(half),
      imag = new Float64Array(half);
    for (let k = 1; k < half; k++) {
      const first = grid.first[k];
      let a = 0,
        b = 0;
      for (let i = 0; i < NEIGHBOURS; i++) {
        const weight = grid.weights[NEIGHBOURS * k + i];
        a += weight * row[first + i];
        b += weight * row[count + first + i];
      }
      real[k] = a;
      imag[k] = b;
    }
    return { real, imag };
  }

  /**
   * The responses of the coils that are heard, at every bin.
   * @param {Values} values
   * @returns {Response[]}
   */
  function responses({ rows }) {
    const below = spread(rows[0]);
    return rows.slice(1).map((row) => {
      const { real, imag } = spread(row);
      for (let k = 1; k < half; k++) {
        const c = below.real[k],
          d = below.imag[k],
          size = c * c + d * d,
          a = real[k],
          b = imag[k];
        real[k] = (a * c + b * d) / size;
        imag[k] = (b * c - a * d) / size;
      }
      // nothing is known at rest: the real part is even there, the imaginary one odd
      real[0] = (4 * real[1] - real[2]) / 3;
      imag[0] = 0;
      return { real, imag };
    });
  }

  return {
    /**
     * Responses with another one behind each.
     * @param {Response[]} found @param {Float64Array} row  as a row of values
     * @returns {Response[]}
     */
    through(found, row) {
      const { real: c, imag: d } = spread(row);
      return found.map(({ real, imag }) => ({
        real: real.map((a, k) => a * c[k] - imag[k] * d[k]),
        imag: imag.map((b, k) => real[k] * d[k] + b * c[k]),
      }));
    },
    /** Distance of the bins, Hz. */
    binHz: rate / SPECTRUM,
    responses,
    /**
     * A filter for each response.
     * @param {Response[]} found @param {number} gain
     */
    filters(found, gain) {
      const firs = found.map(() => new Float32Array(FIR_TAPS));
      for (let pair = 0; pair < found.length; pair += 2) {
        re.fill(0);
        im.fill(0);
        // two real filters make one complex one: the second's spectrum times i
        for (let k = 0; k < half; k++) {
          const c = turnRe[k],
            d = turnIm[k];
          const one = found[pair],
            other = found[pair + 1];
          const a = one.real[k] * c - one.imag[k] * d,
            b = k ? one.real[k] * d + one.imag[k] * c : 0;
          const e = other ? other.real[k] * c - other.imag[k] * d : 0,
            f = other && k ? other.real[k] * d + other.imag[k] * c : 0;
          re[k] = a - f;
          im[k] = b + e;
          if (k) {
            re[SPECTRUM - k] = a + f;
            im[SPECTRUM - k] = e - b;
          }
        }
        fourier.back(re, im);
        for (let n = 0; n < FIR_TAPS; n++) {
          const scale = (gain * shape[n]) / SPECTRUM;
          firs[pair][n] = scale * re[n];
          if (firs[pair + 1]) firs[pair + 1][n] = scale * im[n];
        }
      }
      return firs;
    },
  };
}

/**
 * Where each bin lies among the model's frequencies.
 * @param {[number, number, number]} hz @param {number} rate
 */
function neighboursOf([low, high, count], rate) {
  const half = SPECTRUM / 2,
    step = Math.log(high / low) / (count - 1);
  const first = new Int32Array(half),
    weights = new Float64Array(half * NEIGHBOURS);
  for (let k = 1; k < half; k++) {
    const place = Math.log((k * rate) / SPECTRUM / low) / step;
    first[k] = Math.min(Math.max(Math.floor(place) - NEIGHBOURS / 2 + 1, 0), count - NEIGHBOURS);
    for (let i = 0; i < NEIGHBOURS; i++) {
      let weight = 1;
      for (let j = 0; j < NEIGHBOURS; j++) if (j !== i) weight *= (place - first[k] - j) / (i - j);
      weights[NEIGHBOURS * k + i] = weight;
    }
  }
  return { first, weights };
}

/** 1 within the band, 0 above. @param {number} part of the rate */
function bandAt(part) {
  const way = (part - BAND_END[0]) / (BAND_END[1] - BAND_END[0]);
  return 0.5 + 0.5 * Math.cos(Math.PI * Math.min(Math.max(way, 0), 1));
}

function windowOf() {
  const [rise, fall] = FADED;
  return Float64Array.from({ length: FIR_TAPS }, (_, n) => {
    const inside = Math.min((n + 0.5) / rise, (FIR_TAPS - n - 0.5) / fall, 1);
    return 0.5 - 0.5 * Math.cos(Math.PI * inside);
  });
}
