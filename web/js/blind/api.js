/** Requests about blind tests. */

import { requestJson } from "../shared/http.js";

/** @import {BlindTest, BlindTests, Draft, Setting} from "../shared/types.js" */

const id = encodeURIComponent;

/** @param {string} commission @param {AbortSignal} [signal] @returns {Promise<BlindTests>} */
export const listBlindTests = (commission, signal) =>
  requestJson("GET", `/api/commissions/${id(commission)}/blind-tests`, { signal });
/**
 * @param {string} commission
 * @param {{sounds: {draft: Draft, setting: Setting}[], take: string, trials: number, from_s: number, to_s:
 *   number, way: string}} form
 * @returns {Promise<BlindTest>}
 */
export const startBlindTest = (commission, form) =>
  requestJson("POST", `/api/commissions/${id(commission)}/blind-tests`, { body: form });
/** @param {string} test @param {AbortSignal} [signal] @returns {Promise<BlindTest>} */
export const getBlindTest = (test, signal) => requestJson("GET", `/api/blind-tests/${id(test)}`, { signal });
/**
 * @param {string} test @param {number} number of the trial @param {"A" | "B"} answer
 * @returns {Promise<BlindTest>}
 */
export const answerTrial = (test, number, answer) =>
  requestJson("PUT", `/api/blind-tests/${id(test)}/answers/${number}`, { body: { answer } });
/** @param {string} test @returns {Promise<BlindTest>} */
export const giveUpBlindTest = (test) => requestJson("POST", `/api/blind-tests/${id(test)}/give-up`);
