/** Sentences about a guitar that does something odd. */

import { fixed, showHz } from "../shared/units.js";
import { counted, plainName } from "../shared/words.js";

/** @import {Answer, FormSetting, Line, Next, PartShare, Passed, SpreadRow} from "./api.js" */

/** How likely a line must be for each word. @type {[number, string][]} */
const SURE = [
  [0.95, "almost sure"],
  [0.6, "likely"],
  [0.25, "possible"],
  [0, "less likely"],
];

/** How sure a line is, in words. @param {number} probability */
export const sureText = (probability) => SURE.find(([least]) => probability >= least)?.[1] ?? "";

/** A setting in words, without its label. @param {FormSetting} one */
export const settingText = ({ position, switches, knobs }) =>
  [
    `Position ${position}`,
    ...Object.entries(switches).map(([name, at]) => `${plainName(name).toLowerCase()} at ${at}`),
    ...Object.entries(knobs).map(([name, value]) => `${plainName(name).toLowerCase()} at ${value}`),
  ].join(", ");

/** The knob of a setting that has one turned down. @param {FormSetting} one */
export const knobOf = ({ knobs }) => Object.keys(knobs)[0] ?? "";

/** What a line says first. @param {Line} line */
export function lineText({ sound, faults }) {
  const others = faults.filter(({ kind }) => kind !== "sound");
  if (sound) return "No fault: all of it lies within what the parts allow";
  return others.length === 1
    ? sentence(others[0].text)
    : `One of these ${others.length}, which nothing here tells apart`;
}

/** The likeliest line in one sentence. @param {Answer} answer */
export function summaryText({ classes, readings }) {
  const [first] = classes;
  if (!first) return "";
  const others = first.faults.filter(({ kind }) => kind !== "sound");
  const named = first.sound ? "no fault, within what the parts allow" : others[0].text;
  const more =
    first.sound || others.length < 2 ? "" : `, or ${others.length - 1} more that nothing here tells apart`;
  return `By ${counted(readings, "reading")}, ${sureText(first.probability)}: ${named}${more}.`;
}

/** Faults of a line beside no fault, in words. @param {number} count */
export const besideText = (count) => `${counted(count, "fault")} would read and sound the same here`;

/** @param {string} text */
export const sentence = (text) => text.charAt(0).toUpperCase() + text.slice(1);

/** What to read next. @param {Next} next @param {FormSetting | undefined} setting */
export const nextText = (next, setting) => {
  const where = setting ? settingText(setting) : `Position ${next.setting}`;
  const coils = next.coils.map(plainName).join(", then ");
  if (next.what === "exciter") return `The exciter over ${coils}, at every setting of the switches`;
  if (next.what === "blade") return `The blade, pulled away from ${coils}`;
  return next.what === "meter" ? `The meter: ${where}` : `The rig: ${where}`;
};

/**
 * Why nothing is to be read next.
 * @param {{clear: boolean}} answer @param {{rig: boolean, exciter: boolean}} tools  what is at hand
 */
export function enoughText({ clear }, { rig, exciter }) {
  if (clear) return "It is clear enough.";
  const may = [...(rig ? [] : ["the rig"]), ...(exciter ? [] : ["an exciter"])].join(" or ");
  return `No further reading ${rig ? "" : "of the meter "}tells more${may ? `; ${may} may` : ""}.`;
}

/** @param {string | undefined} phase @param {number} share */
export const workingText = (phase, share) =>
  phase === "waiting"
    ? "Another search runs first…"
    : `Working out what every fault of this wiring would read, once: ${Math.round(100 * share)} %`;

/** Which settings were recorded at the rig. @param {string[]} settings */
export const recordedText = (settings) =>
  settings.length
    ? `Recorded at the rig: ${settings.map((one) => `position ${one}`).join("; ")}.`
    : "Nothing was recorded at the rig yet.";

/** Which coils were read with an exciter or a blade. @param {string[]} coils */
export const excitedText = (coils) =>
  coils.length
    ? `Read with the exciter or the blade: ${coils.map(plainName).join(", ")}.`
    : "Nothing was read with the exciter or the blade yet.";

/** How one setting spreads. @param {SpreadRow} row */
export function spreadText({ resonance_hz, semitones, level_db, farthest_db }) {
  const parts = [];
  if (resonance_hz !== null && semitones !== null) {
    const [low, high] = [-1, 1].map((way) => showHz(resonance_hz * 2 ** ((way * semitones) / 12)));
    parts.push(`resonance ${low} to ${high}`);
  }
  parts.push(`level ±${fixed(level_db, 2)} dB`, `farthest two ${fixed(farthest_db, 1)} dB of timbre apart`);
  return parts.join(" · ");
}

/** @param {PartShare} one */
export const partText = ({ part, share }) =>
  `${part === "cable" ? "The player's cable" : plainName(part)}: ${Math.round(100 * share)} %`;

/**
 * What selecting a part brings.
 * @param {PartShare[]} shares @param {string | null} worth the best part, if any is
 */
export function selectingText(shares, worth) {
  const one = shares.find(({ part }) => part === worth);
  const less = Math.round(100 * (one?.selected_gain ?? 0));
  return one
    ? `Worth selecting: ${plainName(one.part).toLowerCase()}. At a third of its spread they lie ${less} % less apart.`
    : "No part is worth selecting: none brings the instruments much closer.";
}

/** @param {Passed} one */
export const passedText = ({ share, low, high }) =>
  `${Math.round(100 * share)} % (${Math.round(100 * low)} to ${Math.round(100 * high)} %)`;
