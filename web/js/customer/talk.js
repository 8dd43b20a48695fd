/** What is said to a proposal: what the server has, and what waits in this browser. No DOM. */

/** @import {Entry} from "./outbox.js" */
/** @import {Mark, Note, Offer, Served, Wish} from "./words.js" */

const HERE = /** @type {const} */ ("here"),
  REFUSED = /** @type {const} */ ("refused");

/**
 * The offer with what is not sent yet. What was refused changes nothing; its text is kept.
 * @param {Served} served @param {Entry[]} entries @param {string} device this browser's
 * @returns {Offer}
 */
export function withUnsent(served, entries, device) {
  const { comments, wishes, looked } = served;
  let marks = served.marks;
  const there = new Set([...comments, ...wishes].map(({ id }) => id)),
    notes = comments.map((one) => ({ ...one, ...stateOf(one, looked) })),
    wanted = wishes.map((one) => ({ ...one, ...stateOf(one, looked) }));
  /** @type {Note[]} */
  const newNotes = [];
  /** @type {Wish[]} */
  const newWishes = [];
  const takenBack = new Set();
  for (const { operation, why } of entries) {
    const { id, written: when } = operation,
      said = { id, when, device, place: 0, replies: [], state: why ? REFUSED : HERE, why };
    // the server has it; only its answer was lost
    if (there.has(id)) continue;
    if (operation.kind === "note") newNotes.push({ ...operation, ...said });
    else if (why) continue;
    else if (operation.kind === "favourite")
      marks = [...marks, { number: operation.number, device, place: Infinity }];
    else if (operation.kind === "unfavourite") marks = marks.filter((mark) => stays(mark, operation, device));
    else if (operation.kind === "wish")
      newWishes.push({ ...operation, ...said, taken_back: false, sound: null, making: null });
    else takenBack.add(operation.about);
  }
  return {
    ...served,
    favourites: [...new Set(marks.map(({ number }) => number))].sort((a, b) => a - b),
    marks,
    comments: [...notes, ...newNotes],
    wishes: [...wanted, ...newWishes]
      .map((one) => (takenBack.has(one.id) ? { ...one, taken_back: true } : one))
      .filter((one) => !one.taken_back || one.replies.length > 0),
    elsewhere: [...new Set(marks.filter((mark) => mark.device !== device).map(({ number }) => number))],
    unsent: entries.filter(({ operation, why }) => !why && !there.has(operation.id)).length,
    refused: entries.filter(({ why }) => why),
  };
}

/** @param {{place: number}} said @param {number} looked @returns {{state: "sent" | "seen", why: string}} */
const stateOf = ({ place }, looked) => ({ state: place <= looked ? "seen" : "sent", why: "" });

/**
 * Whether a mark outlives its being taken back: one that another phone made and nobody had shown here.
 * @param {Mark} mark @param {{number: number, seen: number}} back @param {string} device
 */
const stays = (mark, { number, seen }, device) =>
  mark.number !== number || (mark.place > seen && mark.device !== device);
