/** Compose an answer from what the customer marked, wrote, wished for, heard and signed. */

import { canonicalJson, wellFormed } from "./canonical.js";
import { fromBase64, sealText } from "./sealing.js";

const ANSWER_FORMAT = 1;
/** Of the sentence that is agreed to by signing for a wiring; by the first one signed for a sound. */
const AGREES = 2;

/**
 * @typedef {object} Said
 * @property {number[]} favourites
 * @property {{number: number | null, text: string}[]} notes
 * @property {{number: number, knobs: Record<string, number>}[]} wishes
 * @property {{number: number, take: string}[]} heard
 * @property {{number: number, name: string} | null} sign  number: of the wiring
 */

/** A text without control characters, which the workshop's program refuses. @param {string} text */
const inParagraphs = (text) =>
  wellFormed(text).replace(/\p{Cc}/gu, (sign) => ("\n\r\t".includes(sign) ? sign : " "));
/** @param {string} text */
const inOneLine = (text) => inParagraphs(text).replace(/[\n\r\t\u2028\u2029]/g, " ");

/** A knob's place in hundredths, so that it is written in one way. @param {number} at */
const inHundredths = (at) => Math.round(100 * at) / 100;

/**
 * The canonical text of an answer.
 * @param {{proposal: string, sent: string}} offer sent: the SHA-256 of the manifest
 * @param {Said} said @param {Date} when by the customer's clock @param {Uint8Array} random 6 bytes
 */
export function composeAnswer({ proposal, sent }, said, when, random) {
  const knobsOf = (/** @type {Record<string, number>} */ knobs) =>
    Object.fromEntries(Object.entries(knobs).map(([name, at]) => [name, inHundredths(at)]));
  const { sign } = said;
  return canonicalJson({
    f: ANSWER_FORMAT,
    p: proposal,
    s: sent,
    w: when.toISOString(),
    fav: [...new Set(said.favourites)].sort((a, b) => a - b),
    notes: said.notes.map(({ number, text }) => [number, inParagraphs(text)]),
    wish: said.wishes.map(({ number, knobs }) => [number, knobsOf(knobs)]),
    heard: said.heard.map(({ number, take }) => [number, take]),
    ...(sign && { sign: { n: sign.number, name: inOneLine(sign.name), agrees: AGREES } }),
    r: [...random].map((byte) => byte.toString(16).padStart(2, "0")).join(""),
  });
}

/**
 * The sealed text of an answer, to be copied, mailed or saved.
 * @param {{proposal: string, sent: string, secret: string}} offer secret: in base 64
 * @param {Said} said
 */
export const sealAnswer = (offer, said) =>
  sealText(
    composeAnswer(offer, said, new Date(), crypto.getRandomValues(new Uint8Array(6))),
    fromBase64(offer.secret),
  );
