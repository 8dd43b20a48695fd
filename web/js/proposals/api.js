/** Requests about proposals, as the bench sees them. */

import { queryText, readBytes, request, requestJson } from "../shared/http.js";

/** @import {Answer, Check, Facts, Proposal} from "../shared/types.js" */
/** @import {Link} from "./words.js" */

const id = encodeURIComponent;

/** @param {string} commission @returns {Promise<Proposal[]>} */
export const listProposals = (commission) =>
  requestJson("GET", `/api/commissions/${id(commission)}/proposals`);
/** @param {string} commission @param {object} form @returns {Promise<{id: string} & Link>} */
export const createProposal = (commission, form) =>
  requestJson("POST", `/api/commissions/${id(commission)}/proposals`, { body: form });
/** @param {string} version @returns {Promise<Check>} */
export const checkVersion = (version) =>
  requestJson("POST", "/api/draft/check", { body: { draft: { version, edits: [] } } });
/**
 * The facts of a version with every knob up.
 * @param {string} version @returns {Promise<{positions: Facts[]}>}
 */
export const getFacts = (version) =>
  requestJson("POST", "/api/draft/facts", {
    body: { draft: { version, edits: [] }, knobs: {}, switches: {} },
  });
/** @param {string} proposal */
export const revokeProposal = (proposal) => requestJson("POST", `/api/proposals/${id(proposal)}/revoke`);
/**
 * Replace a link. The old one stops working.
 * @param {string} proposal
 * @returns {Promise<Link>}
 */
export const renewLink = (proposal) =>
  requestJson("POST", `/api/proposals/${id(proposal)}/link`, { body: {} });
/**
 * Check that a sign-off still matches what was signed.
 * @param {string} proposal
 * @returns {Promise<{holds: boolean, problems: string[]}>}
 */
export const verifySignOff = (proposal) => requestJson("GET", `/api/proposals/${id(proposal)}/verify`);
/**
 * Wait up to 25 s for a change of a proposal.
 * @param {string} proposal @param {number | string} after @param {AbortSignal} signal
 */
export const waitForProposal = (proposal, after, signal) =>
  requestJson("GET", `/api/proposals/${id(proposal)}/events?${queryText({ after })}`, { signal });
/**
 * Answer a note or a wish of the customer.
 * @param {string} proposal @param {{id: string, written: string, about: string, text: string}} reply
 */
export const replyToCustomer = (proposal, reply) =>
  requestJson("POST", `/api/proposals/${id(proposal)}/replies`, { body: reply });
/**
 * Make a wish of the customer a sound of the proposal.
 * @param {string} proposal @param {string} wish its id
 */
export const makeSound = (proposal, wish) =>
  requestJson("POST", `/api/proposals/${id(proposal)}/variants`, { body: { wish } });
/** Make the farthest two of a wiring that were not made. @param {string} proposal @param {number} wiring */
export const makeFarthestAgain = (proposal, wiring) =>
  requestJson("POST", `/api/proposals/${id(proposal)}/farthest/${wiring}`);
/**
 * Make a wish of an answer a sound of the proposal.
 * @param {string} sha256 of the answer @param {number} place of the wish, from 0
 * @returns {Promise<Answer>}
 */
export const makeAnsweredSound = (sha256, place) =>
  requestJson("POST", `/api/answers/${id(sha256)}/variants`, { body: { place } });
/**
 * Say that the workshop has seen what was said up to a place.
 * @param {string} proposal @param {number} place
 */
export const noteLooked = (proposal, place) =>
  requestJson("POST", `/api/proposals/${id(proposal)}/looked`, { body: { place } });
/** @param {string} commission @returns {Promise<Answer[]>} */
export const listAnswers = (commission) => requestJson("GET", `/api/commissions/${id(commission)}/answers`);
/** @param {string} text @returns {Promise<Answer>} */
export const takeAnswerIn = (text) => requestJson("POST", "/api/answers", { body: { text } });
/** @param {string} sha256 of the answer @returns {Promise<{receipt: string}>} */
export const getReceipt = (sha256) => requestJson("GET", `/api/answers/${id(sha256)}/receipt`);
/**
 * Sign off with a signature in doubt that the customer has confirmed.
 * @param {string} sha256 of the answer @param {string} word how the customer confirmed it
 * @returns {Promise<Answer>}
 */
export const signAfterAsking = (sha256, word) =>
  requestJson("POST", `/api/answers/${id(sha256)}/signoff`, { body: { word } });

/**
 * A proposal as one file or as a ZIP, and what to know before it is sent.
 * @param {string} proposal @param {string} form "file" or "zip"
 * @param {(share: number) => void} onProgress share received, 0 to 1
 */
export async function saveBundle(proposal, form, onProgress) {
  const answer = await request("POST", `/api/proposals/${id(proposal)}/bundle/${form}`),
    { headers } = answer;
  return {
    name: /filename="([^"]+)"/.exec(headers.get("Content-Disposition") ?? "")?.[1] ?? form,
    type: headers.get("Content-Type") ?? "",
    note: decodeURIComponent(headers.get("X-Note") ?? ""),
    bytes: await readBytes(answer, onProgress),
  };
}
