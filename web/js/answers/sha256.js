/**
 * SHA-256 (FIPS 180-4) and HMAC (RFC 2104). Browsers offer their own on secure pages only; this serves a
 * page over plain http and one opened as a file alike.
 */

const BLOCK = 64;

/** The first 32 bits of the fractional parts of roots of the first primes. */
const [ROUNDS, START] = (() => {
  /** @type {number[]} */
  const primes = [];
  for (let n = 2; primes.length < 64; n += 1) if (primes.every((prime) => n % prime)) primes.push(n);
  const fraction = (/** @type {number} */ root) => ((root % 1) * 2 ** 32) >>> 0;
  return [primes.map((n) => fraction(Math.cbrt(n))), primes.slice(0, 8).map((n) => fraction(Math.sqrt(n)))];
})();

/** @param {number} word @param {number} by */
const turnRight = (word, by) => (word >>> by) | (word << (32 - by));

/** @param {Uint8Array} bytes padded by 1, zeros and the number of bits */
function padBlocks(bytes) {
  const whole = new Uint8Array(Math.ceil((bytes.length + 9) / BLOCK) * BLOCK);
  whole.set(bytes);
  whole[bytes.length] = 0x80;
  const view = new DataView(whole.buffer);
  view.setUint32(whole.length - 8, Math.floor(bytes.length / 2 ** 29));
  view.setUint32(whole.length - 4, (bytes.length * 8) >>> 0);
  return view;
}

/** @param {Uint8Array} bytes @returns {Uint8Array} 32 bytes */
export function sha256(bytes) {
  const view = padBlocks(bytes),
    sum = Uint32Array.from(START),
    w = new Uint32Array(64);
  for (let at = 0; at < view.byteLength; at += BLOCK) {
    for (let k = 0; k < 16; k += 1) w[k] = view.getUint32(at + 4 * k);
    for (let k = 16; k < 64; k += 1) {
      const s0 = turnRight(w[k - 15], 7) ^ turnRight(w[k - 15], 18) ^ (w[k - 15] >>> 3);
      const s1 = turnRight(w[k - 2], 17) ^ turnRight(w[k - 2], 19) ^ (w[k - 2] >>> 10);
      w[k] = w[k - 16] + s0 + w[k - 7] + s1;
    }
    let [a, b, c, d, e, f, g, last] = sum;
    for (let k = 0; k < 64; k += 1) {
      const s1 = turnRight(e, 6) ^ turnRight(e, 11) ^ turnRight(e, 25);
      const one = (last + s1 + ((e & f) ^ (~e & g)) + ROUNDS[k] + w[k]) | 0;
      const s0 = turnRight(a, 2) ^ turnRight(a, 13) ^ turnRight(a, 22);
      const two = (s0 + ((a & b) ^ (a & c) ^ (b & c))) | 0;
      [last, g, f, e, d, c, b, a] = [g, f, e, (d + one) | 0, c, b, a, (one + two) | 0];
    }
    [a, b, c, d, e, f, g, last].forEach((word, k) => (sum[k] += word));
  }
  const found = new DataView(new ArrayBuffer(32));
  sum.forEach((word, k) => found.setUint32(4 * k, word));
  return new Uint8Array(found.buffer);
}

/** @param {Uint8Array} key @param {Uint8Array} bytes @returns {Uint8Array} 32 bytes */
export function hmacSha256(key, bytes) {
  const short = key.length > BLOCK ? sha256(key) : key;
  const mixed = (/** @type {number} */ sign, /** @type {Uint8Array} */ rest) => {
    const whole = new Uint8Array(BLOCK + rest.length).fill(sign, 0, BLOCK);
    short.forEach((byte, k) => (whole[k] ^= byte));
    whole.set(rest, BLOCK);
    return sha256(whole);
  };
  return mixed(0x5c, mixed(0x36, bytes));
}
