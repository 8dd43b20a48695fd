/** Sentences about how sensitive coils are. */

import { plainName } from "../shared/words.js";
import { settingText } from "./words.js";

/** @import {CoilResult, Place, Plan, Polarity, Recording, Result, Sensed} from "./sensitivity_api.js" */

/** The number that stands for strums of all strings. */
export const ALL = 0;
/** Recordings whose comparison takes longer: of four coils 36 took 36 s on a busy core. */
const MANY = 20;

/** @param {number} string @param {Plan["strings"]} strings */
export function stringText(string, strings) {
  if (string === ALL) return "All strings, strummed";
  const note = strings.find((one) => one.string === string)?.note;
  return `String ${string}${note ? ` (${note})` : ""}`;
}

/** What a file place is for. @param {Place} place @param {Plan["strings"]} strings */
export const placeText = ({ setting, string }, strings) =>
  `${stringText(string, strings)}: ${settingText(setting)}`;

/** @param {{strums: number, seconds: number}} recording */
export const pluckText = ({ strums, seconds }) =>
  `${strums} ${strums === 1 ? "pluck" : "plucks"} in ${seconds.toFixed(0)} s`;

/** How much of the plan is there. @param {number} there @param {number} planned */
export const countText = (there, planned) => `${there} of ${planned} recordings are here.`;

/** What "Find the values" does meanwhile. @param {number} there */
export const waitingText = (there) =>
  "The plucks are compared with what the wiring predicts; it takes " +
  (there > MANY ? "a minute…" : "some seconds…");

/** @param {Recording} removed @param {Plan["strings"]} strings */
export const removedText = ({ name, ...place }, strings) =>
  `“${name}” does not count any more (${placeText(place, strings)}).`;

/** @param {number} db */
export const decibels = (db) => `${db < 0 ? "−" : "+"}${Math.abs(db).toFixed(1)}`;

/** @param {{change_db: number | null, within_db: number}} found */
export const changeText = ({ change_db: db, within_db: within }) =>
  db === null ? "not told" : `${decibels(db)} ± ${within.toFixed(1)} dB`;

/** A coil's sensitivity and its interval. @param {CoilResult} coil */
export const sensitivityText = ({ sensitivity, interval }) =>
  sensitivity === null || interval === null
    ? ""
    : `${shortNumber(sensitivity)} V per m/s, between ${interval.map(shortNumber).join(" and ")}`;

/** @param {number} value */
const shortNumber = (value) => String(Number(value.toPrecision(3)));

/** @param {Polarity} pair */
export function polarityText({ coils, setting, wired, heard, probability_as_wired: chance }) {
  const names = `${coils.map(plainName).join(" and ")}, ${settingText(setting)}`;
  if (heard === null) return `${names}: the recordings do not tell. The wiring says ${wired}.`;
  const sure = Math.max(chance, 1 - chance);
  const share = sure > 0.99 ? "over 99 %" : `${Math.round(100 * sure)} %`;
  return heard === wired
    ? `${names}: ${heard}, as the wiring says (${share} sure).`
    : `${names}: ${heard}, but the wiring says ${wired} (${share} sure).`;
}

/**
 * Recordings that nothing compares with; may be empty.
 * @param {Result} result @param {Plan["strings"]} strings
 */
export const lonelyText = ({ recordings }, strings) =>
  recordings
    .filter(({ compared }) => !compared)
    .map((one) => `${placeText({ ...one, string: one.string ?? ALL }, strings)}: nothing compares with it.`);

/** A shorter name of a coil may be a word of the note. */
const LEAST_NAME = 3;
/** Notes with the names of coils as people read them. @param {Result} result */
export const plainNotes = ({ notes, coils, reference }) =>
  notes.map((note) =>
    [reference, ...coils.map(({ coil }) => coil)]
      .filter((name) => name.length >= LEAST_NAME)
      .reduce(
        (text, name) => text.replace(new RegExp(`(?<![\\w-])${name}(?![\\w-])`, "g"), plainName(name)),
        note,
      ),
  );

/** What "Take these values" writes, and what not. @param {Result} result */
export function takeText({ coils, take, reference }) {
  const names = Object.keys(take);
  if (!names.length) return "No value is sure enough to be taken.";
  const balanced = coils.filter(({ coil }) => take[coil]?.string_balance);
  const balance = balanced.length
    ? ` with the balance of their strings where it was told (${listed(balanced.map(({ coil }) => coil))})`
    : "";
  return (
    `Taken: the sensitivity of ${listed(names)}${balance}, with day and method in a comment. ` +
    `Not taken: polarity, as leads, winding or magnet of either coil may be turned; ` +
    `${plainName(reference)} keeps its values, and so does every string that was not told.`
  );
}

/** @param {string[]} names */
function listed(names) {
  const plain = names.map(plainName);
  return plain.length < 2
    ? plain.join("")
    : `${plain.slice(0, -1).join(", ")} and ${plain[plain.length - 1]}`;
}

/**
 * Recordings of what the wiring has no longer; may be empty.
 * @param {Result} result @param {Plan["strings"]} strings
 */
export const goneText = ({ gone = [] }, strings) =>
  gone.map(
    (one) =>
      `${placeText({ ...one, string: one.string ?? ALL }, strings)}: not compared, as the wiring has no such place now.`,
  );

/** What a place says whose recordings are not compared. @param {boolean} setting @param {boolean} string */
export const missingText = (setting, string) =>
  setting && string
    ? ""
    : `The wiring has no such ${setting ? "string" : "setting"} now: the recording is not compared.`;

/** @typedef {"" | "changed" | "taken"} Since  what became of the wiring since values were found */

/**
 * @param {Result} result
 * @param {Pick<Plan, "basis" | "sensed">} plan  of the wiring at the bench
 * @returns {Since}
 */
export function sinceFound({ basis, sensed, take }, plan) {
  if (basis !== plan.basis) return "changed";
  // kept before each coil's own were
  if (!sensed) return "";
  const coils = Object.keys(sensed);
  /** @param {Partial<Sensed>} [of] */
  const text = ({ sensitivity, string_balance: balance = [] } = {}) =>
    JSON.stringify([sensitivity, balance.some(Boolean) ? balance : []]);
  if (coils.every((name) => text(plan.sensed[name]) === text(sensed[name]))) return "";
  const isTaken = coils.every((name) => text(plan.sensed[name]) === text({ ...sensed[name], ...take[name] }));
  return isTaken ? "taken" : "changed";
}

/** @param {Since} since */
export const sinceText = (since) =>
  ({
    "": "",
    changed: "The wiring has changed since these values were found: find them again.",
    taken: "These values stand in the wiring already. They are told against those that it had before.",
  })[since];
