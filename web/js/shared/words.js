/** Sentences that several rooms of the page use. */

import { problemText } from "./http.js";
import { fixed, showKnob, showSeconds } from "./units.js";

/** @import {Finding, Take} from "./types.js" */

/** How the take was made, by its kind. */
const PLAYED = {
  score: "played by the string model",
  midi: "a MIDI file, played by the string model",
  coils: "recorded coil by coil",
  strings: "recorded string by string",
};

/**
 * How a take was made, and whether coil places along the string make a difference in it.
 * @param {Take} take
 */
export function coilPlacesText({ kind, coil_places: places }) {
  if (kind in PLAYED) return PLAYED[/** @type {keyof typeof PLAYED} */ (kind)];
  return places ? `a recording; coil places ${places}` : "a recording";
}

/** @param {Take} take */
export function takeLine(take) {
  if (take.state === "broken") return `cannot be used: ${(take.problems ?? []).map(problemText).join(" ")}`;
  const length = take.state === "waiting" ? "being examined" : showSeconds(take.seconds);
  return [coilPlacesText(take), length].filter(Boolean).join(" · ");
}
/** A take's name in a list of choices. @param {Take} take */
export const takeChoice = ({ name, state }) => (state === "broken" ? `${name} (cannot be used)` : name);

/** A knob's value for a screen reader. @param {string} name @param {number} value @param {string} [about] */
export function knobInWords(name, value, about = "") {
  const where = value === 10 ? "fully up" : value === 0 ? "fully down" : `${showKnob(value)} of 10`;
  return `${plainName(name)} ${where}${about ? `, ${about}` : ""}`;
}

/** A part's name as plain text. @param {string} name */
export const plainName = (name) => {
  const text = name.replaceAll("_", " ");
  return text.charAt(0).toUpperCase() + text.slice(1);
};

/**
 * A knob's evenness in words.
 * @param {number} used part of the travel with nine tenths of the effect
 * @param {number} total effect, any unit
 */
export function evennessInWords(used, total) {
  if (total <= 0) return "no effect here";
  if (used >= 0.7) return "works evenly";
  return `nine tenths of its effect lie within ${fixed(used * 10, 0)} of 10`;
}

const ORDER = ["error", "warning", "reminder", "note"];

/**
 * Findings for the foot of the page, most severe first. Hum has its own column.
 * @param {Finding[]} findings
 */
export function shownFindings(findings) {
  return findings
    .filter(
      (one) =>
        !["hum-cancelling", "not hum-cancelling"].includes(one.finding) &&
        !(one.severity === "note" && one.finding === "coil lead hanging"),
    )
    .sort((a, b) => ORDER.indexOf(a.severity) - ORDER.indexOf(b.severity));
}

/** @param {number} count @param {string} one @param {string} [many] */
export const counted = (count, one, many = `${one}s`) => `${count} ${count === 1 ? one : many}`;
