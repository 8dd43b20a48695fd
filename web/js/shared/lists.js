/** Lists that several rooms of the page ask for. */

import { queryText, requestJson } from "./http.js";

/** @import {CommissionRow, LibraryPart, Take} from "./types.js" */

/** @param {string} search @param {boolean} archived @returns {Promise<CommissionRow[]>} */
export const listCommissions = (search, archived) =>
  requestJson("GET", `/api/commissions?${queryText({ search, archived: archived ? 1 : 0 })}`);
/** @returns {Promise<Take[]>} */
export const listTakes = () => requestJson("GET", "/api/takes");
/** Generic parts to take values from. @returns {Promise<LibraryPart[]>} */
export const listLibraryParts = () => requestJson("GET", "/api/library");
