/** Requests of the customer's page. The token of the link stands for the proposal. */

import { queryText, readBytes, request, requestBytes, requestJson } from "../shared/http.js";
import { splitStems } from "../player/stems.js";

/** @import {Comment, Offer, SignOff} from "./words.js" */
/** @import {OfferedKnob} from "../shared/types.js" */

/** @param {string} token */
const address = (token) => `/api/p/${encodeURIComponent(token)}`;
/** @param {string} token @param {number} number */
const liveAddress = (token, number) => `${address(token)}/live/${number}`;

/** @param {string} token @param {AbortSignal} [signal] @returns {Promise<Offer>} */
export const getOffer = (token, signal) => requestJson("GET", address(token), { signal });
/** @param {string} token @param {number[]} numbers @returns {Promise<{numbers: number[]}>} */
export const setFavourites = (token, numbers) =>
  requestJson("PUT", `${address(token)}/favourites`, { body: { numbers } });
/** @param {string} token @param {number | null} number @param {string} text @returns {Promise<Comment>} */
export const sendComment = (token, number, text) =>
  requestJson("POST", `${address(token)}/comments`, { body: { number, text } });
/**
 * @param {string} token @param {{number: number, name: string, date: string}} form
 * @returns {Promise<SignOff>}
 */
export const signOff = (token, form) =>
  requestJson("POST", `${address(token)}/signoff`, { body: { ...form, confirm: true } });
/** The address of the signed record. @param {string} token */
export const recordAddress = (token) => `${address(token)}/record`;

/**
 * The knobs of an offered sound.
 * @param {string} token @param {number} number
 * @returns {Promise<{knobs: OfferedKnob[], strings: number, longest_s: number}>}
 */
export const getLiveKnobs = (token, number) => requestJson("GET", liveAddress(token, number));
/**
 * @param {string} token @param {number} number
 * @param {{take: string, knobs: Record<string, number>, id: number}} form
 */
export const getLiveFilters = (token, number, form) =>
  requestBytes("POST", `${liveAddress(token, number)}/filters`, { body: form });
/**
 * The stems of an offered sound: several megabytes, so with progress.
 * @param {string} token @param {number} number @param {string} take
 * @param {(share: number) => void} onProgress share received, 0 to 1
 */
export async function getLiveStems(token, number, take, onProgress) {
  const answer = await request("GET", `${liveAddress(token, number)}/stems?${queryText({ take })}`);
  return splitStems(await readBytes(answer, onProgress), answer);
}
