/** Sentences about proposals, for the bench. */

import { plainName } from "../shared/words.js";
import { showDate } from "../shared/units.js";

/** @import {Answer, AnswerWarning, CustomerSaid, Proposal} from "../shared/types.js" */

/** What the seal of an answer proves, and what not. */
export const SEAL_MEANS =
  "The seal shows that this answer was made with the file you sent and was not changed on its way." +
  " It does not show who made it: whoever has the file can type any name, and you could have made it yourself." +
  " If money hangs on it, send the receipt back and let the customer confirm it.";

/** @param {Proposal | undefined} row */
export const stateOf = (row) =>
  row?.state ?? (row?.signoff ? "signed" : row?.revoked ? "revoked" : row ? "open" : "gone");

/** @param {Pick<Proposal, "items">} row @param {number | null} number */
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
    const known = new Set([...(old.comments ?? []), ...(old.wishes ?? [])].map(({ id }) => id));
    const said = [...(row.comments ?? []), ...(row.wishes ?? [])].filter(({ id }) => !known.has(id));
    return [
      !old.signoff &&
        row.signoff &&
        `Signed: ${row.signoff.name} chose “${row.signoff.label}” of “${row.title}”.`,
      !old.seen && row.seen && `The customer opened “${row.title}”.`,
      ...said.map((one) => `On ${labelOf(row, one.number)}: “${saidInWords(one)}”`),
    ].filter((news) => typeof news === "string");
  });
}

/** A note, or the knobs that are wished for. @param {CustomerSaid} said */
export function saidInWords({ text = "", knobs, taken_back: takenBack = false }) {
  if (!knobs) return text;
  return `${takenBack ? "no longer wishes" : "wishes"} ${knobsInWords(knobs)}`;
}

/**
 * Why no wish becomes a sound any more; empty while the proposal is open.
 * @param {Pick<Proposal, "state">} row
 */
export const whyNoSound = ({ state = "open" }) =>
  ({
    open: "",
    signed: "Signed: nothing changes any more. A new proposal can hold this.",
    expired: "Expired: make a new link, then this can become a sound.",
    revoked: "Ended: make a new link, then this can become a sound.",
  })[state];

/** How far a sound is. @param {number} making share */
export const makingWords = (making) => `Making the sound: ${Math.round(100 * making)} %`;

/** How far the farthest two are. @param {number} making share */
export const farthestWords = (making) => `Making the farthest two of ten: ${Math.round(100 * making)} %`;

/** @param {Record<string, number>} knobs */
const knobsInWords = (knobs) =>
  Object.entries(knobs)
    .map(([name, at]) => `${plainName(name).toLowerCase()} ${Math.round(100 * at) / 100}`)
    .join(", ");

/** The state of all proposals in a few words, the most advanced first. @param {Proposal[]} proposals */
export function proposalsInWords(proposals) {
  const states = proposals.map(stateOf),
    unread = proposals.reduce((sum, one) => sum + (one.unread ?? 0), 0);
  const state = states.includes("signed") ? "signed" : states.includes("open") ? "proposed" : "";
  return [state, unread > 0 && `${unread} new`].filter(Boolean).join(" · ");
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
    ? "It opens anywhere, as long as this computer is on."
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

/** Where an answer comes from and when, and whether it is new. @param {Answer} answer */
export const arrivalInWords = ({ title, sent, written, received, again = false }) =>
  `${again ? "Taken in before: an" : "An"} answer to “${title}”, sent ${showDate(sent)}, written ${showDate(written)},` +
  ` taken in ${showDate(received)}.`;

/** The knobs wished for at a sound. @param {Pick<Answer, "items" | "wishes">} answer @returns {string[]} */
export const wishesInWords = (answer) =>
  answer.wishes.map(({ number, knobs }) => `Wishes ${labelOf(answer, number)} with ${knobsInWords(knobs)}.`);

/** @param {Answer} answer @returns {string} empty without a signature */
export function signatureInWords(answer) {
  const { signature } = answer;
  if (!signature) return "";
  const chosen = `${signature.name} chose “${signature.label}” on ${showDate(signature.date)}`;
  return {
    signed: `Signed: ${chosen}. The sign-off is recorded.`,
    "signed before": `${chosen}, as signed before.`,
    second: `Not recorded: ${chosen}, but the proposal is signed already.`,
    waiting: `Not recorded yet: ${chosen}. Ask the customer first.`,
  }[signature.state];
}

/** @type {Record<string, (one: AnswerWarning, answer: Answer) => string>} */
const WARNINGS = {
  older: ({ sent, newer }) =>
    `It answers what you sent on ${showDate(sent)}. You proposed something newer on ${showDate(newer)}.`,
  closed: ({ closed }) => `You ended this proposal on ${showDate(closed)}; the file went on playing.`,
  expired: ({ expires }) => `The proposal was open until ${showDate(expires)}.`,
  second: ({ name, label, date }) =>
    `${name} signed for “${label}” on ${showDate(date)}. Ask both what is meant.`,
  clock: ({ written, received }) =>
    `The customer's clock says ${showDate(written)}, this computer's ${showDate(received)}: the answer was long on its way, or a clock is wrong.`,
  unheard: ({ numbers }, answer) =>
    `The page never played ${numbers.map((/** @type {number} */ one) => `“${labelOf(answer, one)}”`).join(", ")}, though signed for.`,
};

/** What the workshop should know of an answer, in sentences. @param {Answer} answer */
export const warningsInWords = (answer) =>
  answer.warnings.map((one) => WARNINGS[one.kind]?.(one, answer) ?? `Something is odd: ${one.kind}.`);

/**
 * What was saved, and what to know before it is sent.
 * @param {string} name @param {number} bytes @param {string} note
 */
export const savedWords = (name, bytes, note) =>
  [`Saved as ${name}, ${(bytes / 1e6).toFixed(1)} MB.`, note].filter(Boolean).join(" ");
