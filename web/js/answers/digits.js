/** A sealed text in digits, for a QR code: digits take a third of the room that letters take. */

import { fromBase64 } from "./sealing.js";

const BYTES = 7;
/** Digits that hold so many bytes; `server/answers/sealing.py` has the same. */
const WIDTHS = [0, 3, 5, 8, 10, 13, 15, 17];

/** @param {string} sealed @returns {{head: string, digits: string}} */
export function inDigits(sealed) {
  const [head, body, seal] = sealed.split(".");
  const bytes = [...fromBase64(body), ...fromBase64(seal)];
  let digits = "";
  for (let at = 0; at < bytes.length; at += BYTES) {
    const part = bytes.slice(at, at + BYTES);
    const value = part.reduce((sum, byte) => sum * 256n + BigInt(byte), 0n);
    digits += value.toString().padStart(WIDTHS[part.length], "0");
  }
  return { head: `${head.toUpperCase()}.`, digits };
}
