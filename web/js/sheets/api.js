/** Requests for build sheets: the sheet of a draft, its PDF, its ticks. */

import { readBytes, request, requestJson } from "../shared/http.js";

/** @import {Draft} from "../shared/types.js" */

/**
 * @typedef {object} Sheet
 * @property {string[]} sketches  parts that have no lugs yet; with any of them nothing else is there
 * @property {{name: string, broken: string[], wires: object[], steps: object[]}} record
 * @property {string} html  an article
 * @property {string} wiring  whose ticks they are
 * @property {{done: string[], changed: Record<string, string>, gone: Record<string, string>}} ticks
 *   what was done by the steps' keys; changed: it says another thing now; gone: the sheet has it no longer
 */
/** @typedef {"a4" | "letter"} Paper */

const id = encodeURIComponent;

/** @param {Draft} draft @param {AbortSignal} [signal] @returns {Promise<Sheet>} */
export const getSheet = (draft, signal) =>
  requestJson("POST", "/api/draft/sheet", { body: { draft }, signal });
/**
 * The sheet on paper.
 * @param {Draft} draft @param {Paper} paper @param {AbortSignal} [signal] @returns {Promise<ArrayBuffer>}
 */
export const getSheetPdf = async (draft, paper, signal) =>
  readBytes(await request("POST", "/api/draft/sheet/pdf", { body: { draft, paper }, signal }));
/**
 * How the sheet fits on paper.
 * @param {Draft} draft @param {Paper} paper @param {AbortSignal} [signal]
 * @returns {Promise<{pages: number, size_pt: number, large: boolean}>}
 */
export const getFit = (draft, paper, signal) =>
  requestJson("POST", "/api/draft/sheet/fit", { body: { draft, paper }, signal });
/** @param {string} wiring @param {{step: string, text: string, done: boolean}} tick */
export const keepTick = (wiring, tick) =>
  requestJson("PUT", `/api/wirings/${id(wiring)}/ticks`, { body: tick });
/** @param {string} wiring */
export const clearTicks = (wiring) => requestJson("DELETE", `/api/wirings/${id(wiring)}/ticks`);
