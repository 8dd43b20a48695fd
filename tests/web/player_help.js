/** Shared by the player's tests: the reference cases, and the noise behind them. */

import { readFileSync } from "node:fs";

/** Cases computed by dsp; see reference/make_player_cases.py. */
export const cases = JSON.parse(
  readFileSync(new URL("reference/player_cases.json", import.meta.url), "utf8"),
);

/** Largest difference to dsp, of full scale. Both are 64-bit; the order of sums differs. */
export const SAME = 1e-9;

/** @param {string} text @returns {ArrayBuffer} */
export function bytes(text) {
  return Uint8Array.from(Buffer.from(text, "base64")).buffer;
}

/** Park and Miller's generator, as in the script. @param {number} seed @param {number} n */
export function noise(seed, n) {
  const found = new Float32Array(n);
  let state = seed;
  for (let i = 0; i < n; i++) {
    state = Number((BigInt(state) * 16807n) % 2147483647n);
    found[i] = (state / 2147483647 - 0.5) / 8;
  }
  return found;
}

/** @param {number} coils @param {number} n */
export const stems = (coils, n) => Array.from({ length: coils }, (_, k) => noise(1 + k, n));

/** @param {ArrayLike<number>} a @param {ArrayLike<number>} b */
export function difference(a, b) {
  if (a.length !== b.length) return Infinity;
  let most = 0;
  for (let i = 0; i < a.length; i++) {
    const off = Math.abs(a[i] - b[i]);
    if (!(off <= most)) most = off; // a NaN must not pass
  }
  return most;
}

/** Values on and between samples, eight a sample. @param {ArrayLike<number>} samples */
export function truePeak(samples, side = 32, factor = 8) {
  let most = 0;
  for (let k = 0; k < factor; k++) {
    const taps = Array.from({ length: 2 * side }, (_, i) => {
      const away = i - (side - 1) - k / factor,
        x = Math.PI * away;
      return (x === 0 ? 1 : Math.sin(x) / x) * (0.5 + 0.5 * Math.cos(x / side));
    });
    for (let at = side; at < samples.length - side; at++) {
      let sum = 0;
      for (let i = 0; i < 2 * side; i++) sum += taps[i] * samples[at - side + 1 + i];
      most = Math.max(most, Math.abs(sum));
    }
  }
  return most;
}
