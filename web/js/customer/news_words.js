/** Sentences about sounds that answer wishes: of a page behind a link alone. */

/** @import {Item, Wish} from "./words.js" */

/**
 * What became of a wish: the sound with its settings, or how far the workshop is with it. Empty: nothing yet.
 * @param {Pick<Wish, "sound" | "making">} wish
 */
export const outcomeOf = ({ sound, making }) =>
  sound !== null
    ? `You hear it as sound ${sound}.`
    : making !== null
      ? `The workshop is making it a sound: ${Math.round(100 * making)} %`
      : "";

/** "4, “Neck, turned to tone 3”", of sounds. @param {Pick<Item, "number" | "label">[]} items */
export const namesOf = (items) => items.map(({ number, label }) => `${number}, “${label}”`).join("; ");

/**
 * Which sounds stand in the way of a signature: nobody signs for what was not shown.
 * @param {Pick<Item, "number" | "label">[]} items
 */
export const listenFirst = (items) =>
  `${items.length > 1 ? "new sounds" : "a new sound"} of this wiring came meanwhile: ${namesOf(items)}. Listen first, then sign.`;

/** Which sounds are new. @param {Pick<Item, "number" | "label">[]} items */
export const cameWords = (items) => {
  if (items.length === 0) return "";
  const [sounds, them] = items.length > 1 ? ["sounds", "them"] : ["sound", "it"];
  return `New: ${sounds} ${namesOf(items)}. The workshop made ${them} as you wished.`;
};
