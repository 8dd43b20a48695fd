/** Requests about searches, whatever they are for. */

import { queryText, requestJson } from "./http.js";

const id = encodeURIComponent;

/**
 * Wait up to 25 s for the next result.
 * @param {string} search @param {number} after @param {AbortSignal} [signal]
 * @returns {Promise<any>}
 */
export const waitForSearch = (search, after, signal) =>
  requestJson("GET", `/api/searches/${id(search)}?${queryText({ after })}`, { signal });
/** @param {string} search @returns {Promise<unknown>} */
export const cancelSearch = (search) => requestJson("POST", `/api/searches/${id(search)}/cancel`);
/**
 * Save a chart as a new wiring or a new version.
 * @param {string} search
 * @param {{commission: string, name: string} | {wiring: string, base: string, note: string}} target
 * @returns {Promise<{wiring_id: string, version_id: string}>}
 */
export const saveChart = (search, target) =>
  requestJson("POST", `/api/searches/${id(search)}/keep`, { body: target });
