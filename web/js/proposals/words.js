/** Sentences about proposals, for the bench. */

/** @import {Proposal} from "../shared/types.js" */

/** @param {Proposal | undefined} row */
export const stateOf = (row) =>
  row?.state ?? (row?.signoff ? "signed" : row?.revoked ? "revoked" : row ? "open" : "gone");

/** @param {Proposal} row @param {number | null} number */
export const labelOf = ({ items = [] }, number) =>
  items.find((item) => item.number === number)?.label ?? (number === null ? "the whole" : `number ${number}`);

/**
 * The changes between two lists, in sentences; none for the first list.
 * @param {Proposal[]} before @param {Proposal[]} now
 */
export function newsOf(before, now) {
  return now.flatMap((row) => {
    const old = before.find(({ id }) => id === row.id);
    if (!old) return [];
    const comments = (row.comments ?? []).slice((old.comments ?? []).length);
    return [
      !old.signoff &&
        row.signoff &&
        `Signed: ${row.signoff.name} chose “${labelOf(row, row.signoff.number)}” of “${row.title}”.`,
      !old.seen && row.seen && `The customer opened “${row.title}”.`,
      ...comments.map(({ number, text }) => `On ${labelOf(row, number)}: “${text}”`),
    ].filter((news) => typeof news === "string");
  });
}

/** The state of all proposals in a few words, the most advanced first. @param {Proposal[]} proposals */
export function proposalsInWords(proposals) {
  const states = proposals.map(stateOf);
  if (states.includes("signed")) return "signed";
  return states.includes("open") ? "proposed" : "";
}

/**
 * The result of checking a signed record.
 * @param {string} title @param {{holds: boolean, problems: string[]}} found
 */
export const recordInWords = (title, { holds, problems }) =>
  holds
    ? `The record of “${title}” is intact: signature, wirings and clips match what was signed.`
    : `The record of “${title}” is not intact: ${problems.join("; ")}.`;

/**
 * A link at one address.
 * @typedef {{url: string, reach: "anywhere" | "network" | "machine", code: string}} Place
 */
/**
 * A new link at each address where it opens, and this computer's addresses on its network where it opens
 * on this computer alone.
 * @typedef {{link: string, links: Place[], nearby: string[]}} Link
 */

/** Where a link opens. @param {Place} place */
export const reachInWords = ({ reach }) =>
  reach === "anywhere"
    ? "It opens anywhere."
    : "It opens on the workshop's network alone: the phone must be in the same one. For customers at home start the server with --public-url.";

/**
 * Why nobody else can open a link; empty where somebody can.
 * @param {Place} place @param {Link} link
 */
export function warningOf({ reach }, { links, nearby }) {
  if (reach !== "machine") return "";
  if (links.length > 1) return "This address opens on this computer alone. Choose another one.";
  const then = nearby.length
    ? `: phones on the workshop's network then find it at ${nearby.join(" or ")}`
    : "";
  return `This address opens on this computer alone, so no phone can open the link. Start the server with --host 0.0.0.0${then}. For customers at home start it with --public-url.`;
}
