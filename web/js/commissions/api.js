/** Requests about the list of commissions and the starters. */

import { requestJson } from "../shared/http.js";

/** @import {Fitting, Starter, StringSet} from "../shared/types.js" */

const id = encodeURIComponent;

/**
 * @param {{title: string, client?: string, starter: string | null} & Fitting} form
 * @returns {Promise<{id: string}>}
 */
export const createCommission = (form) => requestJson("POST", "/api/commissions", { body: form });
/** @param {string} commission @param {{title?: string, client?: string, archived?: boolean}} change */
export const changeCommission = (commission, change) =>
  requestJson("PATCH", `/api/commissions/${id(commission)}`, { body: change });
/** @param {string} commission @returns {Promise<{id: string}>} */
export const copyCommission = (commission) => requestJson("POST", `/api/commissions/${id(commission)}/copy`);
/** @returns {Promise<Starter[]>} */
export const listStarters = () => requestJson("GET", "/api/starters");
/** @returns {Promise<StringSet[]>} */
export const listStringSets = () => requestJson("GET", "/api/starters/strings");
