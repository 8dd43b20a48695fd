/** A sound file of samples: RIFF WAVE, 24-bit integers, one channel (WAVE_FORMAT_PCM). */

const HEAD = 44,
  BYTES = 3,
  TOP = 2 ** 23 - 1;

/** Whole seconds that a file of so many bytes holds. @param {number} bytes @param {number} rate  Hz */
export const secondsIn = (bytes, rate) => Math.floor((bytes - HEAD) / (BYTES * rate));

/**
 * @param {Float32Array} samples full scale 1; what exceeds it is cut off
 * @param {number} rate Hz @returns {ArrayBuffer}
 */
export function encodeWav(samples, rate) {
  const size = samples.length * BYTES,
    view = new DataView(new ArrayBuffer(HEAD + size + (size % 2)));
  const text = (/** @type {number} */ at, /** @type {string} */ signs) =>
    [...signs].forEach((sign, k) => view.setUint8(at + k, sign.charCodeAt(0)));
  text(0, "RIFF");
  view.setUint32(4, view.byteLength - 8, true);
  text(8, "WAVEfmt ");
  view.setUint32(16, 16, true);
  view.setUint16(20, 1, true);
  view.setUint16(22, 1, true);
  view.setUint32(24, rate, true);
  view.setUint32(28, rate * BYTES, true);
  view.setUint16(32, BYTES, true);
  view.setUint16(34, 8 * BYTES, true);
  text(36, "data");
  view.setUint32(40, size, true);
  samples.forEach((sample, k) => {
    const value = Math.round(Math.max(-1, Math.min(1, sample)) * TOP),
      at = HEAD + k * BYTES;
    view.setUint16(at, value & 0xffff, true);
    view.setInt8(at + 2, value >> 16);
  });
  return view.buffer;
}
