/** Sentences about finished guitars. */

import { showDate } from "../shared/units.js";
import { counted, plainName } from "../shared/words.js";

/** @import {Version} from "../shared/types.js" */
/** @import {Instrument, PlannedSetting, Side, Verdict} from "./api.js" */

/** A word and a sign for each side of a band: colour alone tells nobody. */
export const SIDES = /** @type {Record<Side, {sign: string, word: string}>} */ ({
  within: { sign: "✓", word: "within" },
  "too low": { sign: "▼", word: "too low" },
  "too high": { sign: "▲", word: "too high" },
  turned: { sign: "↺", word: "the other way round" },
  "held to": { sign: "=", word: "the others are held to this" },
  "not judged": { sign: "·", word: "not judged yet" },
  problem: { sign: "?", word: "not understood" },
  unplanned: { sign: "–", word: "not read at this version" },
});

export const METER_HELP =
  "Set the guitar as each line says and read ohms from the plug's tip to its sleeve. Knobs that a line does not name are at 10. A meter that shows OL, or a lone 1, reads open: type open. 0 Ω means that tip and sleeve are joined.";
export const RIG_HELP =
  "The rig of Measure reads the impedance at the jack too. Its three calibrations are made at the plug at the end of the guitar's cable, not at a coil's clips. Then plug the cable into the guitar and record one file for each setting; a table of impedance will do as well.";

export const EXCITER_HELP =
  "An exciter lies over one coil while the selector goes round. How much it induces is not known, so each setting is held to the coil's loudest, and signs to those of the other coils. It shows what no meter and no impedance does: leads exchanged of a coil, two like coils exchanged. The input counts as 1 MΩ, the cable as 500 pF. Bring a recording of the rig's tone, or type what you read at 900 Hz: the level of input 2 less that of input 1, with a sign before it, + where input 2 leads and - where it lags, for all coils alike. A level of -40 dB that leads is + -40 dB, with two signs.";
export const BLADE_HELP =
  "The exciter tells the winding alone. Pull a steel blade away from a coil's pole: the first swing at the jack tells winding and magnet together.";

export const CALIBRATION_LOST =
  "This calibration serves the guitars of every wiring. Their recordings say nothing until you record it again.";

export const RIG_STEPS = /** @type {const} */ ([
  { step: "open", title: "Open", about: "The cable, its plug in nothing." },
  { step: "short", title: "Short", about: "Tip and sleeve of the plug joined." },
  { step: "known", title: "Known resistor", about: "At the plug; you have read it on the meter." },
]);

/** A setting in words. @param {Pick<PlannedSetting, "position" | "controls">} setting */
export const settingText = ({ position, controls }) =>
  [`Position ${position}`, ...controls.map(({ name, value }) => `${plainName(name)} at ${value}`)].join(", ");

/**
 * What a version is called among those that a guitar may be judged against.
 * @param {Version} version @param {string | undefined} signed its date
 */
export const versionText = ({ number, note, created }, signed) =>
  [`Version ${number}`, signed ? `signed ${showDate(signed)}` : note || showDate(created)].join(", ");

/**
 * How the exciter lay, where its signs say nothing from coil to coil.
 * @param {Pick<Instrument, "verdict" | "readings">} one
 */
export const sidesText = ({ verdict, readings }) =>
  verdict.sides_kept === false && readings.some(({ what }) => what.startsWith("exciter "))
    ? "Either side of the exciter faced the coils: signs say nothing from coil to coil."
    : "";

/** What to say of the verdict. @param {Verdict} verdict */
export const verdictText = ({ text }) => `${text.charAt(0).toUpperCase()}${text.slice(1)}.`;

/** How the verdict looks: a class of the page. @param {Verdict} verdict */
export const verdictLook = ({ read, outside }) => (outside ? "bad" : read ? "ok" : "soft");

/** The sign before a verdict. @param {Verdict} verdict */
export const verdictSign = ({ read, outside }) => (outside ? "▲" : read ? "✓" : "·");

/** Edits that a guitar is not judged against. @param {number} edits */
export const editsText = (edits) =>
  edits
    ? "The bench has edits that are not saved. A guitar is judged against a saved version: save them first if it was built with them."
    : "";

/** Readings that this version has no field for. @param {number} count */
export const leftText = (count) =>
  count
    ? `${counted(count, "reading")} of settings that this version is not read at ${count === 1 ? "stays as it is and counts" : "stay as they are and count"} for nothing.`
    : "";

/** Why nothing is kept yet. @param {number} count of files on their way */
export const comingText = (count) =>
  count ? "A recording of this guitar is on its way. You can keep the guitar once it is there." : "";

/** What is said of an instrument beside its number. @param {Instrument} one */
export const aboutText = ({ day, version_number: version, signed }) =>
  [
    `read on ${showDate(day)}`,
    `version ${version}, ${signed ? `signed ${showDate(signed)}` : "not signed for"}`,
  ].join(" · ");

/** What becomes of a guitar that is read again. @param {string} serial */
export const againText = (serial) =>
  `You read ${serial} again. What stood before stays in its history, and the new state is judged against the version chosen above.`;

/** Today where the reader is, as the server writes days. @param {Date} [now] */
export const today = (now = new Date()) =>
  [now.getFullYear(), now.getMonth() + 1, now.getDate()].map((one) => String(one).padStart(2, "0")).join("-");
