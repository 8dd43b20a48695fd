/** Why something could not be done, in the customer's words: the server's own are for who builds pages. */

import { ApiError } from "../shared/http.js";

/** @typedef {"mark" | "note" | "sign" | "turn"} Deed  what the customer wanted to do */

/** @type {Record<number, string>} */
const REASONS = {
  0: "there is no connection to the workshop. Try again in a moment.",
  403: "it did not come from the page that the workshop sent. Open the workshop's link again.",
  404: "the workshop no longer offers this. Open the workshop's link again.",
  408: "it took too long on its way. Try again where your connection is better.",
  409: "somebody was faster. Open the workshop's link again to see what is there now.",
  410: "this proposal is closed. Ask the workshop for a new link.",
  413: "it is more than can be sent at once. Make it shorter.",
  422: "something in it cannot be sent. Write it again, without copied signs.",
  429: "too much came from here in a short time. Wait a minute, then try again.",
};
const SERVER = "the workshop's server has a problem. Try again in a few minutes.";
const PAGE = "something in this page or this browser failed. Reload the page and try again.";

/** What a reason is where it depends on what was wanted. @type {Record<string, Record<number, string>>} */
const OWN = {
  note: { 409: "there are as many notes as this proposal can hold. Please call the workshop." },
  sign: { 409: "its sounds are still being prepared. Wait a moment, then try again." },
};

/** A sound came after the page that signs was loaded. */
const CAME = "a new sound of this wiring came meanwhile. Listen to it first, then sign.";

/** What is wrong with a field of the form. @type {Record<string, string>} */
const FIELDS = {
  date: "the date must be today's.",
  name: "the name holds signs that cannot be kept. Type it again.",
};

/**
 * A reason as the end of a sentence, or a few sentences more.
 * @param {unknown} error @param {Deed} deed
 */
export function whyNot(error, deed) {
  if (!(error instanceof ApiError)) return PAGE;
  const { status, problems } = error,
    field = status === 422 && problems.map(({ where }) => FIELDS[where]).find(Boolean);
  if (status === 409 && problems.some(({ where }) => where === "sounds")) return CAME;
  return field || OWN[deed]?.[status] || REASONS[status] || (status >= 500 ? SERVER : PAGE);
}

/**
 * Why somebody else's signature stands in the way.
 * @param {{name: string, label: string}} signoff
 */
export const signedAlready = ({ name, label }) =>
  `${name} has signed already, for “${label}”. Talk to the workshop if you want something else.`;
