/** Read a receipt, a sealed text of the workshop. `server/answers/receipts.py` makes it. */

import { fromBase64, isSealed } from "../answers/sealing.js";
import { sha256 } from "../answers/sha256.js";
import { inflate } from "./inflate.js";

const SHAPE = /^receipt1\.([A-Za-z0-9_-]+)\.[A-Za-z0-9_-]{22}$/;
const AGAIN = "Ask the workshop to send it once more.";

/**
 * @typedef {object} Receipt  What the workshop has of an answer.
 * @property {string} answer  SHA-256 of the answer
 * @property {string} received  when it was taken in
 * @property {"none" | "signed" | "signed before" | "second" | "waiting"} state  of its signature
 * @property {import("../customer/words.js").SignOff | null} sign  as recorded
 */

/**
 * @param {string} text as it came; white space does not matter
 * @param {{proposal: string, secret: string}} answer what the file's answers are sealed with
 * @returns {Promise<Receipt>}
 */
export async function readReceipt(text, { proposal, secret }) {
  const sealed = text.replace(/\s+/g, ""),
    shape = SHAPE.exec(sealed);
  if (!shape) {
    if (sealed.startsWith("presolder1"))
      throw new Error("This is an answer. The receipt is what the workshop sends back.");
    throw new Error(`This is no receipt, or a part of it is missing: it begins with receipt1. ${AGAIN}`);
  }
  if (!isSealed(sealed, fromBase64(secret)))
    throw new Error(`This receipt was changed on its way, or it belongs to another file. ${AGAIN}`);
  const { p, a, w, state, sign } = JSON.parse(await unpack(shape[1]));
  if (p !== proposal) throw new Error(`This receipt belongs to another file. ${AGAIN}`);
  return { answer: a, received: w, state, sign: sign ? { ...sign, number: sign.n } : null };
}

/** @param {string} packed in base 64 */
const unpack = (packed) => inflate([/** @type {Uint8Array<ArrayBuffer>} */ (fromBase64(packed))]);

/** The digest by which the workshop knows an answer. @param {string} sealed */
export async function answerDigest(sealed) {
  const text = await unpack(sealed.split(".")[1]);
  return [...sha256(new TextEncoder().encode(text))]
    .map((byte) => byte.toString(16).padStart(2, "0"))
    .join("");
}
