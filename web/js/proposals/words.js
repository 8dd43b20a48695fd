/** Proposals as the bench tells of them. */

/** @import {Proposal} from "../shared/types.js" */

/** @param {Proposal | undefined} row */
export const stateOf = (row) =>
  row?.state ?? (row?.signoff ? "signed" : row?.revoked ? "revoked" : row ? "open" : "gone");

/** @param {Proposal} row @param {number | null} number */
export const labelOf = ({ items = [] }, number) =>
  items.find((item) => item.number === number)?.label ?? (number === null ? "the whole" : `number ${number}`);

/** What changed between two looks, in sentences; the first look is no news. @param {Proposal[]} before @param {Proposal[]} now */
export function newsOf(before, now) {
  return now.flatMap((row) => {
    const old = before.find(({ id }) => id === row.id);
    if (!old) return [];
    const comments = (row.comments ?? []).slice((old.comments ?? []).length);
    return [
      !old.signoff &&
        row.signoff &&
        `Signed: ${row.signoff.name} chose “${labelOf(row, row.signoff.number)}” of “${row.title}”.`,
      !old.seen && row.seen && `“${row.title}” was opened by the customer.`,
      ...comments.map(({ number, text }) => `On ${labelOf(row, number)}: “${text}”`),
    ].filter((news) => typeof news === "string");
  });
}

/** The state of all in a few words, the furthest first. @param {Proposal[]} proposals */
export function proposalsInWords(proposals) {
  const states = proposals.map(stateOf);
  if (states.includes("signed")) return "signed";
  return states.includes("open") ? "before the customer" : "";
}

/** What the check of a signed record found. @param {string} title @param {{holds: boolean, problems: string[]}} found */
export const recordInWords = (title, { holds, problems }) =>
  holds
    ? `The record of “${title}” holds: the signature, the wirings and the clips are as they were signed.`
    : `The record of “${title}” does not hold: ${problems.join("; ")}.`;
