/** Sentences of the page that depend on what is so. */

import { fixed, showKnob, showSeconds } from "./units.js";

/** @import {Finding, Take} from "./types.js" */

/** Which player there is, by kind of take. */
const PLAYED = {
  score: "played by the string model",
  coils: "recorded coil by coil",
  strings: "recorded string by string",
};

/** What a listener must know of a take: is a coil's place along the string heard or not. @param {Take} take */
export function honesty({ kind, coil_places: places }) {
  if (kind in PLAYED) return PLAYED[/** @type {keyof typeof PLAYED} */ (kind)];
  return places ? `a recording; coil places ${places}` : "a recording";
}

/** @param {Take} take */
export const takeLine = (take) => [honesty(take), showSeconds(take.seconds)].filter(Boolean).join(" · ");

/** A knob's value for someone who does not see it. @param {string} name @param {number} value @param {string} [about] */
export function knobInWords(name, value, about = "") {
  const where = value === 10 ? "fully up" : value === 0 ? "fully down" : `${showKnob(value)} of 10`;
  return `${plainName(name)} ${where}${about ? `, ${about}` : ""}`;
}

/** A part's name as one says it. @param {string} name */
export const plainName = (name) => {
  const said = name.replaceAll("_", " ");
  return said.charAt(0).toUpperCase() + said.slice(1);
};

/** A knob's evenness in a sentence. @param {number} used share of the travel that holds nine tenths of the effect @param {number} total effect, any unit */
export function evennessInWords(used, total) {
  if (total <= 0) return "does nothing here";
  if (used >= 0.7) return "works evenly";
  return `nine tenths of its effect within ${fixed(used * 10, 0)} of 10`;
}

const ORDER = ["error", "warning", "reminder", "note"];

/** What is worth a sentence at the foot, gravest first; hum has its own column. @param {Finding[]} findings */
export function worthSaying(findings) {
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
