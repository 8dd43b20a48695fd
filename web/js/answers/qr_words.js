/** The codewords of a QR code (ISO/IEC 18004): segments as bits, in blocks with Reed-Solomon check words. */

const LETTERS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:",
  ALPHANUMERIC = 2,
  NUMERIC = 1;
/** Per version from 1, error level M: check words of a block, and blocks (table 9). */
const CHECKS = [
  10, 16, 26, 18, 24, 16, 18, 22, 22, 26, 30, 22, 22, 24, 24, 28, 28, 26, 26, 26, 26, 28, 28, 28, 28,
];
const BLOCKS = [1, 1, 1, 2, 2, 4, 4, 4, 5, 5, 5, 8, 9, 9, 10, 10, 11, 13, 14, 16, 17, 17, 18, 20, 21];

/** @typedef {{head: string, digits: string}} Said  head: capitals, digits and a few signs */

/** The largest version made here; more modules than a phone reads well. */
export const LARGEST = CHECKS.length;

/** Modules of a version that hold codewords, in whole words. @param {number} version */
function wordsOf(version) {
  const size = 4 * version + 17,
    groups = version > 1 ? Math.floor(version / 7) + 2 : 0;
  const aligned = groups && 25 * groups * groups - 10 * groups - 55;
  const free = (16 * version + 128) * version + 64 - aligned - (version > 6 ? 36 : 0);
  return size && Math.floor(free / 8);
}

/** @param {number} version */
const dataWords = (version) => wordsOf(version) - CHECKS[version - 1] * BLOCKS[version - 1];

/** Bits of the count of signs (table 3). @param {number} mode @param {number} version */
const countBits = (mode, version) => (mode === NUMERIC ? 10 : 9) + (version > 26 ? 4 : version > 9 ? 2 : 0);

/** @param {number} value @param {number} width @returns {number[]} */
const bitsOf = (value, width) => Array.from({ length: width }, (_, k) => (value >> (width - 1 - k)) & 1);

/** @param {Said} said @param {number} version */
function segmentBits({ head, digits }, version) {
  const bits = [...bitsOf(ALPHANUMERIC, 4), ...bitsOf(head.length, countBits(ALPHANUMERIC, version))];
  for (let k = 0; k < head.length; k += 2) {
    const [first, second] = [...head.slice(k, k + 2)].map((sign) => LETTERS.indexOf(sign));
    bits.push(...(second === undefined ? bitsOf(first, 6) : bitsOf(45 * first + second, 11)));
  }
  bits.push(...bitsOf(NUMERIC, 4), ...bitsOf(digits.length, countBits(NUMERIC, version)));
  for (let k = 0; k < digits.length; k += 3) {
    const part = digits.slice(k, k + 3);
    bits.push(...bitsOf(Number(part), 3 * part.length + 1));
  }
  return bits;
}

/** @param {number} a @param {number} b in the field of 256 with x^8 + x^4 + x^3 + x^2 + 1 */
function multiply(a, b) {
  let product = 0;
  for (let k = 7; k >= 0; k -= 1) product = (product << 1) ^ ((product >> 7) * 0x11d) ^ (((b >> k) & 1) * a);
  return product;
}

/** @param {number} count @returns {number[]} coefficients after the leading 1 */
function generator(count) {
  const found = Array.from({ length: count }, (_, k) => Number(k === count - 1));
  for (let root = 1, k = 0; k < count; k += 1, root = multiply(root, 2))
    for (let at = 0; at < count; at += 1)
      found[at] = multiply(found[at], root) ^ (at + 1 < count ? found[at + 1] : 0);
  return found;
}

/** @param {number[]} words @param {number[]} divisor */
function checkWords(words, divisor) {
  const rest = divisor.map(() => 0);
  for (const word of words) {
    const factor = word ^ /** @type {number} */ (rest.shift());
    rest.push(0);
    divisor.forEach((one, k) => (rest[k] ^= multiply(one, factor)));
  }
  return rest;
}

/** @template T @param {T[][]} rows of which the first may be shorter @returns {T[]} column by column */
const interleave = (rows) =>
  Array.from({ length: Math.max(...rows.map((row) => row.length)) }, (_, k) =>
    rows.flatMap((row) => (k < row.length ? [row[k]] : [])),
  ).flat();

/** @param {number[]} words @param {number} version data words followed by check words, as they are drawn */
function withChecks(words, version) {
  const blocks = BLOCKS[version - 1],
    divisor = generator(CHECKS[version - 1]);
  const short = Math.floor(words.length / blocks),
    shorter = blocks - (words.length % blocks);
  /** @type {number[][]} */
  const data = [];
  for (let k = 0, at = 0; k < blocks; k += 1) {
    const length = short + Number(k >= shorter);
    data.push(words.slice(at, at + length));
    at += length;
  }
  return [...interleave(data), ...interleave(data.map((block) => checkWords(block, divisor)))];
}

/**
 * The smallest version that holds a text, and its codewords; null if none does.
 * @param {Said} said @returns {{version: number, words: number[]} | null}
 */
export function codewords(said) {
  for (let version = 1; version <= LARGEST; version += 1) {
    const bits = segmentBits(said, version),
      room = 8 * dataWords(version);
    if (bits.length > room) continue;
    bits.push(...bitsOf(0, Math.min(4, room - bits.length)));
    bits.push(...bitsOf(0, -bits.length & 7));
    const words = [];
    for (let k = 0; k < bits.length; k += 8) words.push(Number.parseInt(bits.slice(k, k + 8).join(""), 2));
    for (let pad = 0xec; words.length < dataWords(version); pad ^= 0xec ^ 0x11) words.push(pad);
    return { version, words: withChecks(words, version) };
  }
  return null;
}
