/**
 * A position for every knob value: polynomials in the shares of the pots' tracks. `dsp/live/model.py` tells
 * the format. Without a page, so that tests run it.
 */

const FORMAT = 1;
const KNOB_TOP = 10;
/** A share nearer to an end of its stretch is moved there; see dsp/live/shares.py. */
const NEAREST = 1e-9;
const MIDDLE = 0.5;

/**
 * @typedef {{knob: number, taper: number, first: number, last: number, top: boolean, degree: number}}
 *   Variable
 * @typedef {{at: number, heard: number[], variables: Variable[]}} Piece
 * @typedef {{name: string, value: number, clicks: boolean}} ModelKnob
 * @typedef {{format: number, coils: string[], hz: [number, number, number], knobs: ModelKnob[], still:
 *   string[], tapers: [number, number][][], pieces: Piece[]}} Head
 * @typedef {Head & {numbers: Float32Array}} LiveModel
 * @typedef {{heard: number[], rows: Float64Array[]}} Values  rows: real parts, then imaginary parts, of the
 *   denominator, then of each numerator that is heard
 */

/**
 * @param {ArrayBuffer} buffer
 * @returns {LiveModel}
 * @throws {RangeError} if the bytes are no model
 */
export function readModel(buffer) {
  const view = new DataView(buffer),
    length = buffer.byteLength >= 4 ? view.getUint32(0, true) : Infinity;
  if (4 + length > buffer.byteLength) throw new RangeError(`a model of ${buffer.byteLength} bytes`);
  /** @type {Head} */
  const head = JSON.parse(new TextDecoder().decode(new Uint8Array(buffer, 4, length)));
  if (head.format !== FORMAT) throw new RangeError(`a model of format ${head.format}: ${FORMAT} expected`);
  const from = 4 + length,
    count = (buffer.byteLength - from) / 4;
  const numbers = Float32Array.from({ length: Math.floor(count) }, (_, i) =>
    view.getFloat32(from + 4 * i, true),
  );
  const last = head.pieces[head.pieces.length - 1];
  const wanted = last.at + (1 + last.heard.length) * termsOf(last) * 2 * head.hz[2];
  if (count !== wanted) throw new RangeError(`a model of ${count} numbers: ${wanted} expected`);
  return { ...head, numbers };
}

/** @param {Piece} piece */
const termsOf = ({ variables }) => variables.reduce((terms, { degree }) => terms * (degree + 1), 1);

/** The share of a taper. @param {[number, number][]} points @param {number} at knob/10 */
function shareOf(points, at) {
  let k = 1;
  while (k < points.length - 1 && points[k][0] < at) k++;
  const [x0, y0] = points[k - 1],
    [x1, y1] = points[k];
  return at >= x1 ? y1 : y0 + ((y1 - y0) * (at - x0)) / (x1 - x0);
}

/** @param {LiveModel} model @param {Variable} variable @param {number} knob */
function isHeld({ tapers }, { taper, first, last, top }, knob) {
  if (top) return knob === KNOB_TOP;
  const share = shareOf(tapers[taper], knob / KNOB_TOP);
  return first <= share && (share < last || last === 1);
}

/** @param {LiveModel} model @param {Variable} variable @param {number} knob */
function bernstein({ tapers }, { taper, first, last, top, degree }, knob) {
  const way = top ? MIDDLE : (shareOf(tapers[taper], knob / KNOB_TOP) - first) / (last - first);
  const y = Math.min(Math.max(way, NEAREST), 1 - NEAREST),
    weights = [];
  for (let i = 0, choose = 1; i <= degree; choose = (choose * (degree - i)) / (i + 1), i++)
    weights.push(choose * y ** i * (1 - y) ** (degree - i));
  return weights;
}

/**
 * The polynomials' values at knob values; a knob left out, or one that stands still, is as offered.
 * @param {LiveModel} model @param {Record<string, number>} knobs
 * @returns {Values}
 */
export function valuesAt(model, knobs) {
  const at = model.knobs.map(({ name, value }) =>
    model.still.includes(name) ? value : (knobs[name] ?? value),
  );
  const piece = model.pieces.find(({ variables }) =>
    variables.every((variable) => isHeld(model, variable, at[variable.knob])),
  );
  if (!piece) throw new RangeError("a model without these knob values");
  const weights = piece.variables.reduce(
    (all, variable) => {
      const own = bernstein(model, variable, at[variable.knob]);
      return all.flatMap((one) => own.map((weight) => one * weight));
    },
    [1],
  );
  const size = 2 * model.hz[2];
  const rows = Array.from({ length: 1 + piece.heard.length }, (_, r) => {
    const row = new Float64Array(size);
    weights.forEach((weight, t) => {
      const from = piece.at + (r * weights.length + t) * size;
      for (let i = 0; i < size; i++) row[i] += weight * model.numbers[from + i];
    });
    return row;
  });
  return { heard: piece.heard, rows };
}
