/** Sentences about what was sent and what was not: of a page behind a link alone. */

/** @import {Offer} from "./words.js" */
/** @import {Operation} from "./operation.js" */

/** An operation that was refused, in a few words. @param {Operation} operation */
export function saidWords(operation) {
  if (operation.kind === "note") return `Your note “${operation.text}”`;
  if (operation.kind === "unwish") return "Taking your wish back";
  const sound = `sound ${operation.number}`;
  return {
    favourite: `The heart of ${sound}`,
    unfavourite: `Taking the heart of ${sound} away`,
    wish: `Your wish for ${sound}`,
  }[operation.kind];
}

/**
 * What waits here, or whether the workshop has it and has seen it; empty before anything was said.
 * @param {Pick<Offer, "unsent" | "unread" | "place">} offer @param {boolean} keeps
 */
export function sendingWords({ unsent, unread, place }, keeps) {
  if (unsent > 0) {
    const waits = `${unsent === 1 ? "1 thing is" : `${unsent} things are`} kept here, not sent yet.`;
    return `${waits} ${keeps ? "It goes by itself as soon as the workshop can be reached." : "This browser keeps nothing: leave the page open until it is sent."}`;
  }
  if (place === 0) return "";
  return unread > 0 ? "Sent. The workshop has not looked yet." : "Sent. The workshop has seen it all.";
}
