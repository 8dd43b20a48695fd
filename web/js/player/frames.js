/**
 * The frame that holds the filters of a setting: little-endian 64-bit floats. Eight numbers, then
 * poles, numerators and taps.
 */

/**
 * @typedef {object} Frame
 * @property {number} id          Of the request.
 * @property {number} coils
 * @property {number} sections
 * @property {number} taps        Per coil, a multiple of four.
 * @property {number} delay       Delay of the output, samples.
 * @property {number} errorDb     Largest error of the filters against the circuit.
 * @property {boolean} meets      Whether that is within the limit.
 * @property {number} matchGainDb Gain to the common loudness; NaN if unknown, infinite for silence.
 * @property {Float64Array} poles       a1, a2 per section.
 * @property {Float64Array} numerators  b0, b1 per coil and section.
 * @property {Float64Array} fir         Taps per coil.
 */

const HEAD = 8,
  LEVEL_AT = 7;
const MOST = { coils: 64, sections: 128, taps: 256 };

/**
 * Read a frame.
 * @param {ArrayBuffer} buffer
 * @returns {Frame}
 * @throws {RangeError} if the bytes are not a frame
 */
export function readFrame(buffer) {
  if (buffer.byteLength < 8 * HEAD || buffer.byteLength % 8) {
    throw new RangeError(`a frame of ${buffer.byteLength} bytes: at least ${8 * HEAD}, in eights`);
  }
  const all = littleEndian(buffer);
  const [id, coils, sections, taps, delay, errorDb, meets, matchGainDb] = all;
  const whole = [id, coils, sections, taps, delay].every((n) => Number.isInteger(n) && n >= 0);
  const filled = taps > 0 && taps % 4 === 0; // the bank runs four taps at a time
  if (!whole || coils > MOST.coils || sections > MOST.sections || !filled || taps > MOST.taps) {
    throw new RangeError(`a frame of ${coils} coils, ${sections} sections, ${taps} taps`);
  }
  const sizes = [2 * sections, 2 * coils * sections, coils * taps];
  const wanted = HEAD + sizes[0] + sizes[1] + sizes[2];
  if (all.length !== wanted) throw new RangeError(`a frame of ${all.length} numbers: ${wanted} expected`);
  const numeratorsAt = HEAD + sizes[0],
    firAt = numeratorsAt + sizes[1];
  return {
    id,
    coils,
    sections,
    taps,
    delay,
    errorDb,
    meets: meets === 1,
    matchGainDb,
    poles: all.slice(HEAD, numeratorsAt),
    numerators: all.slice(numeratorsAt, firAt),
    fir: all.slice(firAt),
  };
}

/** @param {ArrayBuffer} buffer */
function littleEndian(buffer) {
  const view = new DataView(buffer);
  return Float64Array.from({ length: buffer.byteLength / 8 }, (_, i) => view.getFloat64(8 * i, true));
}

/** Whether the frame's level is known. @param {ArrayBuffer} buffer */
export const hasLevel = (buffer) => !Number.isNaN(new DataView(buffer).getFloat64(8 * LEVEL_AT, true));

/**
 * Why a frame's filters cannot be run, or "".
 * @param {Frame} frame
 */
export function unusable(frame) {
  const finite = [frame.poles, frame.numerators, frame.fir].every((part) => part.every(Number.isFinite));
  if (!finite) return "a coefficient is not a number";
  for (let s = 0; s < frame.sections; s++) {
    const a1 = frame.poles[2 * s],
      a2 = frame.poles[2 * s + 1];
    if (!(Math.abs(a2) < 1 && Math.abs(a1) < 1 + a2)) return "a pole is not stable";
  }
  return "";
}
