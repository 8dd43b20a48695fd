/** Requests about the list of commissions and the starters. */

import { request, requestJson, upload } from "../shared/http.js";

/** @import {Commission, Fitting, Starter, StringSet} from "../shared/types.js" */
/** @import {Charted, Choices, Made} from "./words.js" */

const id = encodeURIComponent;

/**
 * @param {{title: string, client?: string, starter: string | null, wiring_text?: string} & Fitting} form
 * @returns {Promise<{id: string}>}
 */
export const createCommission = (form) => requestJson("POST", "/api/commissions", { body: form });
/** @param {string} commission @param {{title?: string, client?: string, archived?: boolean}} change */
export const changeCommission = (commission, change) =>
  requestJson("PATCH", `/api/commissions/${id(commission)}`, { body: change });
/** @param {string} commission @returns {Promise<{id: string}>} */
export const copyCommission = (commission) => requestJson("POST", `/api/commissions/${id(commission)}/copy`);
/**
 * A small picture of a version's wiring, as the text of an SVG document.
 * @param {string} version @param {AbortSignal} [signal] @returns {Promise<string>}
 */
export const getPicture = async (version, signal) =>
  (await request("GET", `/api/versions/${id(version)}/picture`, { signal })).text();
/**
 * How much customers said that the workshop has not seen, by commission.
 * @returns {Promise<Record<string, number>>}
 */
export const countUnread = () => requestJson("GET", "/api/unread");
/** @typedef {{name: string, contact: string, picture: string | null}} Workshop  picture: its address */
/** @returns {Promise<Workshop>} */
export const getWorkshop = () => requestJson("GET", "/api/workshop");
/** @param {{name: string, contact: string}} texts @returns {Promise<Workshop>} */
export const setWorkshop = (texts) => requestJson("PUT", "/api/workshop", { body: texts });
/** @param {File} file @returns {Promise<Workshop>} */
export const bringWorkshopPicture = (file) => upload("/api/workshop/picture", file, () => {}).done;
/** @returns {Promise<Workshop>} */
export const removeWorkshopPicture = () => requestJson("DELETE", "/api/workshop/picture");
/** @returns {Promise<Starter[]>} */
export const listStarters = () => requestJson("GET", "/api/starters");
/** @returns {Promise<StringSet[]>} */
export const listStringSets = () => requestJson("GET", "/api/starters/strings");
/** What may be said of a new instrument. @returns {Promise<Choices>} */
export const listWords = () => requestJson("GET", "/api/words");
/** @param {unknown} words @param {AbortSignal} [signal] @returns {Promise<Made>} */
export const makeOfWords = (words, signal) => requestJson("POST", "/api/words", { body: words, signal });
/**
 * A lug chart of a wiring file's text.
 * @param {string} text @param {unknown} options @param {AbortSignal} [signal] @returns {Promise<Charted>}
 */
export const chartText = (text, options, signal) =>
  requestJson("POST", "/api/charts", { body: { text, options }, signal });
/** @param {string} commission @returns {Promise<Commission>} */
export const getCommissionWirings = (commission) => requestJson("GET", `/api/commissions/${id(commission)}`);
/** Say how a commission opens. @param {string} commission @param {unknown} start */
export const saveStart = (commission, start) =>
  requestJson("PUT", `/api/commissions/${id(commission)}/state`, { body: { start } });
