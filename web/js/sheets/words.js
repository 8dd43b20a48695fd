/** Sentences of the build sheet. */

import { counted } from "../shared/words.js";

/**
 * How far the work is.
 * @param {{done: boolean, text: string, number: string}[]} steps
 */
export function progressText(steps) {
  const done = steps.filter((step) => step.done).length;
  const next = steps.find((step) => !step.done);
  if (!next) return `All ${steps.length} done.`;
  const words = [next.number, next.text].filter(Boolean).join(" ");
  return `${done} of ${steps.length} done. Next: ${words}`;
}

/**
 * Ticks that no longer hold.
 * @param {number} changed @param {number} gone
 */
export function lostText(changed, gone) {
  const parts = [
    changed && `${counted(changed, "step")} changed and lost ${changed === 1 ? "its tick" : "their ticks"}`,
    gone && `${counted(gone, "thing")} that you did ${gone === 1 ? "is" : "are"} no longer on the sheet`,
  ];
  const text = parts.filter(Boolean).join("; ");
  return text ? `The wiring is another than when you ticked: ${text}.` : "";
}

/**
 * What to do about a thing that was done and is no longer wanted.
 * @param {string} key @param {string} text
 */
export const goneText = (key, text) => (key.includes("~") ? `Unsolder: ${text}` : `Was done: ${text}`);

/** Which sheet this is. @param {string} wiring @param {number} edits not saved yet */
export const titleText = (wiring, edits) =>
  edits ? `${wiring}, with ${counted(edits, "unsaved edit")}` : wiring;

/** What a draft needs before it has a sheet. @param {string[]} missing */
export const missingText = (missing) =>
  `The wiring is not finished: there is no ${missing.join(" and no ")}. Add it, and the sheet is here.`;

/**
 * What the sheet takes on paper.
 * @param {{pages: number, size_pt: number, large: boolean}} fit @param {"a4" | "letter"} paper
 */
export const fitText = ({ pages, size_pt: size, large }, paper) => {
  const sheets = `${counted(pages, "page")} of ${paper === "a4" ? "A4" : "Letter"}`;
  return large ? `Too large for three pages that can be read: ${sheets} at ${size} pt.` : sheets;
};

/** What a sketch needs before it has a sheet. @param {string[]} names */
export const sketchText = (names) =>
  `${names.join(" and ")}: still a sketch, with sounds and no lugs to solder. Make its chart, and the sheet is here.`;
