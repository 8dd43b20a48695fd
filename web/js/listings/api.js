/** Requests about listings. */

import { queryText, requestJson } from "../shared/http.js";

/** @import {FormFields, Listing, ListingPlan, Order} from "./words.js" */

const id = encodeURIComponent;

/** @param {boolean} archived @returns {Promise<Listing[]>} */
export const listListings = (archived) =>
  requestJson("GET", `/api/listings?${queryText({ archived: archived ? 1 : 0 })}`);
/**
 * Count the clips of a listing and check it.
 * @param {Order} order @param {AbortSignal} [signal]
 * @returns {Promise<ListingPlan>}
 */
export const planListing = (order, signal) =>
  requestJson("POST", "/api/listings/plan", { body: order, signal });
/** @param {Order} order @returns {Promise<{id: string}>} */
export const startListing = (order) => requestJson("POST", "/api/listings", { body: order });
/** @param {string} listing */
export const cancelListing = (listing) => requestJson("POST", `/api/listings/${id(listing)}/cancel`);
/** @param {string} listing */
export const resumeListing = (listing) => requestJson("POST", `/api/listings/${id(listing)}/resume`);
/** @returns {Promise<FormFields>} */
export const listFormFields = () => requestJson("GET", "/api/listings/fields");
/** Keep a picture. @param {string} content in base 64 @returns {Promise<{picture: string}>} its name */
export const bringPicture = (content) => requestJson("POST", "/api/listings/pictures", { body: { content } });
/** @param {string} picture */
export const pictureAddress = (picture) => `/api/listings/pictures/${id(picture)}`;
/** @param {string} listing @param {boolean} archived */
export const archiveListing = (listing, archived) =>
  requestJson("PATCH", `/api/listings/${id(listing)}`, { body: { archived } });
/** The address of all files of a listing in one archive. @param {string} listing */
export const zipAddress = (listing) => `/api/listings/${id(listing)}/zip`;
/**
 * Wait up to 25 s for a change of any listing.
 * @param {number} after @param {AbortSignal} signal
 * @returns {Promise<{after: number, changed: boolean}>}
 */
export const waitForListings = (after, signal) =>
  requestJson("GET", `/api/listings/events?${queryText({ after })}`, { signal });
