/**
 * A running bank of filters: a numerator from every coil into each shared section, one recursion
 * per section, and a short FIR per coil.
 *
 *   u_s[i] = sum over coils of b0 x[i] + b1 x[i-1],  v_s[i] = u_s[i] - a1 v_s[i-1] - a2 v_s[i-2]
 *   y[i] = sum over sections of v_s[i] + sum over coils and t of tap[t] x[i-t]
 */

/** @import {Frame} from "./frames.js" */

/** Samples needed before a block: the longest FIR. */
export const PAST = 256;
/** Longest block. */
export const BLOCK = 128;
/** Most samples warmed at once. */
export const WARM_BLOCK = 4096;

const WARM_DB = 130,
  SHORTEST_WARM = 2048,
  LONGEST_WARM = 72000;
/** Smaller states are set to zero: arithmetic on denormal numbers is many times slower. */
const NOTHING = 1e-30;

/**
 * Samples that a bank must run before it may sound: until its slowest mode has decayed.
 * @param {Frame} frame
 */
export function warmSamples(frame) {
  let radius = 0;
  for (let s = 0; s < frame.sections; s++) {
    radius = Math.max(radius, radiusOf(frame.poles[2 * s], frame.poles[2 * s + 1]));
  }
  if (radius <= 0) return SHORTEST_WARM;
  const perSample = -20 * Math.log10(Math.max(Math.min(radius, 1 - 1e-12), 1e-6));
  return Math.floor(Math.min(Math.max(WARM_DB / perSample, SHORTEST_WARM), LONGEST_WARM));
}

/** Largest pole radius of 1 + a1/z + a2/z^2. @param {number} a1 @param {number} a2 */
function radiusOf(a1, a2) {
  const under = 0.25 * a1 * a1 - a2;
  return under < 0 ? Math.sqrt(a2) : Math.abs(0.5 * a1) + Math.sqrt(under);
}

/**
 * What a bank does to one coil at a frequency: real and imaginary part.
 * @param {Frame} frame @param {number} k @param {number} turns  frequency over sampling rate
 * @returns {[number, number]}
 */
export function responseOf({ sections, taps, poles, numerators, fir }, k, turns) {
  const angle = -2 * Math.PI * turns,
    [c1, s1, c2, s2] = [Math.cos(angle), Math.sin(angle), Math.cos(2 * angle), Math.sin(2 * angle)];
  let re = 0,
    im = 0;
  for (let s = 0; s < sections; s++) {
    const a1 = poles[2 * s],
      a2 = poles[2 * s + 1],
      b0 = numerators[2 * (k * sections + s)],
      b1 = numerators[2 * (k * sections + s) + 1];
    const [p, q] = [1 + a1 * c1 + a2 * c2, a1 * s1 + a2 * s2],
      [x, y] = [b0 + b1 * c1, b1 * s1],
      size = p * p + q * q;
    re += (x * p + y * q) / size;
    im += (y * p - x * q) / size;
  }
  for (let t = 0; t < taps; t++) {
    re += fir[k * taps + t] * Math.cos(t * angle);
    im += fir[k * taps + t] * Math.sin(t * angle);
  }
  return [re, im];
}

/** One bank, with its state. */
export class Bank {
  /** @param {Frame} frame */
  constructor(frame) {
    this.frame = frame;
    this.coils = hearingOf(frame); // a coil without coefficients costs nothing
    this.state = new Float64Array(2 * frame.sections);
    this.u = new Float64Array(WARM_BLOCK);
  }

  /** Clear the state. */
  reset() {
    this.state.fill(0);
  }

  /**
   * Run the sections over samples without output.
   * @param {Float64Array[]} x  Per coil; x[k][at - 1] precedes the block.
   * @param {number} at @param {number} n at most WARM_BLOCK
   */
  warm(x, at, n) {
    for (let s = 0; s < this.frame.sections; s++) {
      this.#drive(s, x, at, n);
      this.#recur(s, n, null);
    }
  }

  /**
   * Filter a block.
   * @param {Float64Array[]} x  Per coil; PAST samples precede `at`.
   * @param {number} at @param {number} n at most BLOCK
   * @param {Float64Array} out
   */
  run(x, at, n, out) {
    out.fill(0, 0, n);
    for (const k of this.coils) this.#fir(k, x[k], at, n, out);
    for (let s = 0; s < this.frame.sections; s++) {
      this.#drive(s, x, at, n);
      this.#recur(s, n, out);
    }
  }

  /**
   * The input of a section.
   * @param {number} s @param {Float64Array[]} x @param {number} at @param {number} n
   */
  #drive(s, x, at, n) {
    const { sections, numerators } = this.frame,
      u = this.u;
    u.fill(0, 0, n);
    for (const k of this.coils) {
      const b0 = numerators[2 * (k * sections + s)],
        b1 = numerators[2 * (k * sections + s) + 1];
      const xk = x[k];
      let before = xk[at - 1];
      for (let i = 0; i < n; i++) {
        const now = xk[at + i];
        u[i] += b0 * now + b1 * before;
        before = now;
      }
    }
  }

  /** A section's recursion. @param {number} s @param {number} n @param {Float64Array | null} out */
  #recur(s, n, out) {
    const a1 = this.frame.poles[2 * s],
      a2 = this.frame.poles[2 * s + 1],
      u = this.u;
    let v1 = this.state[2 * s],
      v2 = this.state[2 * s + 1];
    for (let i = 0; i < n; i++) {
      const v = u[i] - a1 * v1 - a2 * v2;
      v2 = v1;
      v1 = v;
      if (out !== null) out[i] += v;
    }
    this.state[2 * s] = Math.abs(v1) < NOTHING ? 0 : v1;
    this.state[2 * s + 1] = Math.abs(v2) < NOTHING ? 0 : v2;
  }

  /** A coil's FIR, four taps at a time; `readFrame` refuses other numbers of taps.
   * @param {number} k @param {Float64Array} xk @param {number} at
   * @param {number} n @param {Float64Array} out */
  #fir(k, xk, at, n, out) {
    const { taps, fir } = this.frame,
      first = k * taps;
    for (let t = 0; t < taps; t += 4) {
      const c0 = fir[first + t],
        c1 = fir[first + t + 1],
        c2 = fir[first + t + 2],
        c3 = fir[first + t + 3];
      const from = at - t;
      let x1 = xk[from - 1],
        x2 = xk[from - 2],
        x3 = xk[from - 3];
      for (let i = 0; i < n; i++) {
        const x0 = xk[from + i];
        out[i] += c0 * x0 + c1 * x1 + c2 * x2 + c3 * x3;
        x3 = x2;
        x2 = x1;
        x1 = x0;
      }
    }
  }
}

/** Coils with any coefficient that is not zero. @param {Frame} frame */
function hearingOf({ coils, sections, taps, numerators, fir }) {
  return Array.from({ length: coils }, (_, k) => k).filter(
    (k) =>
      numerators.subarray(2 * k * sections, 2 * (k + 1) * sections).some((b) => b !== 0) ||
      fir.subarray(k * taps, (k + 1) * taps).some((c) => c !== 0),
  );
}
