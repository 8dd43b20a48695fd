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
