/** Requests about a commission, its wirings and their versions. */

import { requestJson } from "../shared/http.js";

/** @import {Change, Changed, Commission, Draft, Edit} from "../shared/types.js" */

const id = encodeURIComponent;

/** @param {string} commission @returns {Promise<Commission>} */
export const getCommission = (commission) => requestJson("GET", `/api/commissions/${id(commission)}`);
/** @param {string} commission @param {unknown} state @param {boolean} [leaving] the page is closing */
export const saveState = (commission, state, leaving = false) =>
  requestJson("PUT", `/api/commissions/${id(commission)}/state`, { body: state, keepalive: leaving });
/**
 * @param {string} version
 * @returns {Promise<{id: string, wiring_id: string, number: number, text: string, note: string}>}
 */
export const getVersion = (version) => requestJson("GET", `/api/versions/${id(version)}`);
/**
 * @param {string} wiring @param {{base: string, edits: Edit[], note?: string}} form
 * @returns {Promise<{id: string, number: number}>}
 */
export const saveVersion = (wiring, form) =>
  requestJson("POST", `/api/wirings/${id(wiring)}/versions`, { body: form });
/**
 * @param {string} commission @param {{name: string, text: string}} wiring
 * @returns {Promise<{wiring_id: string, version_id: string}>}
 */
export const addWiring = (commission, wiring) =>
  requestJson("POST", `/api/commissions/${id(commission)}/wirings`, { body: wiring });
/**
 * A few words for each edit of drafts; empty for an edit that goes with another.
 * @param {Draft[]} drafts @returns {Promise<{names: string[][]}>}
 */
export const getEditNames = (drafts) => requestJson("POST", "/api/draft/names", { body: { drafts } });
/**
 * What each version of a wiring changed, in a few words.
 * @param {string} wiring @returns {Promise<Record<string, string[]>>}
 */
export const getChanges = (wiring) => requestJson("GET", `/api/wirings/${id(wiring)}/changes`);
/**
 * A draft with one thing done to it. @param {Draft} draft @param {Change} change @returns {Promise<Changed>}
 */
export const changeDraft = (draft, change) =>
  requestJson("POST", "/api/draft/change", { body: { draft, change } });
/**
 * What a version changed of the one before, drawn and in words.
 * @typedef {{svg: string, solder: string[], unsolder: string[], added: string[], removed: string[],
 *   changed: Record<string, [string, string]>}} Difference
 */
/** @param {string} version @returns {Promise<Difference>} */
export const getDifference = (version) => requestJson("GET", `/api/versions/${id(version)}/difference`);
