/** Seal an answer: a short text that the workshop can check. `server/answers/sealing.py` reads it. */

import { hmacSha256 } from "./sha256.js";

const SEAL_HEAD = "presolder1",
  SEAL_BYTES = 16,
  MOST_STORED = 0xffff;

/** @param {Uint8Array} bytes base 64 for addresses, without padding (RFC 4648, section 5) */
function toBase64(bytes) {
  let signs = "";
  for (const byte of bytes) signs += String.fromCharCode(byte);
  return btoa(signs).replaceAll("+", "-").replaceAll("/", "_").replace(/=+$/, "");
}

/** @param {string} text @returns {Uint8Array} */
export const fromBase64 = (text) =>
  Uint8Array.from(atob(text.replaceAll("-", "+").replaceAll("_", "/")), (sign) => sign.charCodeAt(0));

/** Bytes as blocks that are stored as they are (RFC 1951, section 3.2.4). @param {Uint8Array} bytes */
function storePlain(bytes) {
  const blocks = Math.max(Math.ceil(bytes.length / MOST_STORED), 1);
  const found = new Uint8Array(bytes.length + 5 * blocks);
  for (let k = 0; k < blocks; k += 1) {
    const part = bytes.subarray(k * MOST_STORED, (k + 1) * MOST_STORED),
      n = part.length;
    const head = [Number(k === blocks - 1), n & 255, n >> 8, ~n & 255, (~n >> 8) & 255];
    found.set(head, k * (MOST_STORED + 5));
    found.set(part, k * (MOST_STORED + 5) + 5);
  }
  return found;
}

/** Raw deflate; where the browser has none the text is only longer. @param {Uint8Array} bytes */
async function deflateRaw(bytes) {
  let packing;
  try {
    packing = new CompressionStream("deflate-raw");
  } catch {
    return storePlain(bytes);
  }
  const packed = new Blob([/** @type {BlobPart} */ (bytes)]).stream().pipeThrough(packing);
  return new Uint8Array(await new Response(packed).arrayBuffer());
}

/**
 * @param {string} text canonical JSON @param {Uint8Array} secret that came with the proposal
 * @returns {Promise<string>}
 */
export async function sealText(text, secret) {
  const utf8 = new TextEncoder();
  const body = `${SEAL_HEAD}.${toBase64(await deflateRaw(utf8.encode(text)))}`;
  return `${body}.${toBase64(hmacSha256(secret, utf8.encode(body)).subarray(0, SEAL_BYTES))}`;
}

/** Whether a text has the seal of a secret. @param {string} sealed @param {Uint8Array} secret */
export function isSealed(sealed, secret) {
  const at = sealed.lastIndexOf("."),
    seal = hmacSha256(secret, new TextEncoder().encode(sealed.slice(0, at))).subarray(0, SEAL_BYTES);
  return sealed.slice(at + 1) === toBase64(seal);
}
