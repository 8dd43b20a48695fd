/** Why a link shows no proposal, in words. */

/** @type {Record<number, [string, string]>} */
const CLOSED = {
  404: [
    "This link does not work",
    "Part of it may be missing. Open the whole link as the workshop sent it, or ask the workshop to send it again.",
  ],
  410: [
    "This proposal is closed",
    "It has expired, or the workshop has withdrawn it. What was sent is not lost. Ask the workshop for a new link.",
  ],
  429: [
    "One moment, please",
    "Someone here has tried too many wrong links. Wait ten minutes, then open the link again.",
  ],
  0: ["No connection", "The workshop's server does not answer. This page keeps trying."],
};

/**
 * A title and a sentence; undefined for what has no words of its own.
 * @param {number} status of the answer, 0 for none
 * @returns {[string, string] | undefined}
 */
export const closedWords = (status) => CLOSED[status];
