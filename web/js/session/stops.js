/** The rows of the selector: what each shows of a position's facts. */

import { joinedInWords } from "../shared/coils_drawing.js";
import { fixed, showDb, showHz, showOhm } from "../shared/units.js";

/** @import {Facts} from "../shared/types.js" */

/**
 * @typedef {object} Stop
 * @property {string} position
 * @property {string} name
 * @property {string} how  joined, in words
 * @property {string} words  what it sounds like
 * @property {string} alike  the stop that it can hardly be told from, and how far apart they are
 * @property {string} hum
 * @property {boolean} hums
 * @property {string} level
 * @property {string} meter
 * @property {number} findings
 * @property {string} details
 */

/** A larger drop in level is marked: half as loud to most ears (rule of thumb, common practice). */
export const SOFT_DB = -10;

/** The server's word for a difference that people hear. */
const HEARD = "heard";

const FULL_HUM_DB = -2,
  NO_HUM_DB = -60;

/**
 * @param {Facts[]} facts
 * @param {boolean} [amplified]  whether it is heard through a chain: distances are then those through clean
 * @returns {Stop[]}
 */
export function stopsOf(facts, amplified = false) {
  const levels = facts.map((row) => row.level_db).filter((level) => level !== null);
  const loudest = Math.max(...levels, -Infinity);
  const clean = Math.max(...facts.map((row) => row.clean_level_db ?? -Infinity));
  /** @param {Facts} row */
  const heardOf = ({ level_db: level, clean_level_db: heard }) =>
    level === null || heard === null
      ? ""
      : `${showDb(level - loudest)} as wired, ${fixed(heard - clean)} LU through clean, below the loudest`;
  return facts.map((row) => ({
    position: row.position,
    name: row.label || `Position ${row.position}`,
    how: joinedInWords(row.connection),
    words: row.words.join(", "),
    alike: row.nearest && row.nearest.heard !== HEARD ? nearestInWords(row, amplified) : "",
    hum: humInWords(row),
    hums: row.hum === "hums" || row.hum === "silent",
    level: row.level_db === null ? "silent" : showDb(row.level_db - loudest),
    meter: showOhm(row.meter_ohm),
    findings: row.findings.filter((one) => one.severity === "error" || one.severity === "warning").length,
    details: detailsOf(row, facts.length > 1 ? heardOf(row) : "", amplified),
  }));
}

/** @param {Facts} row */
export function humInWords(row) {
  if (row.hum === "silent") return "silent";
  if (row.hum === "none") return "no hum";
  // only a reduction of hum deserves a number: a single coil has all of its hum
  const left = row.hum_db === null || row.hum_db > FULL_HUM_DB ? "" : ` ${fixed(row.hum_db, 0)} dB`;
  return row.hum === "little" ? `little${left}` : `hums${left}`;
}

/**
 * The position most like a row's, and whether they differ to the ear. Behind a loudspeaker the bands that it
 * does not pass count less: there the distance is weighted by loudness.
 * @param {Pick<Facts, "nearest">} row @param {boolean} amplified
 */
export function nearestInWords({ nearest }, amplified) {
  if (!nearest) return "";
  const { position, largest_db: largest, level_db: level, heard, clean } = nearest;
  if (amplified) {
    const through = `${fixed(clean.distance_db)} dB of timbre through clean, weighted by loudness`;
    return `most like ${position} (${through}, level ${fixed(clean.level_db)} LU; direct: ${heard})`;
  }
  const apart = `${fixed(largest)} dB in the band that differs most, level ${showDb(level)}`;
  return `most like ${position} (${apart}: ${heard})`;
}

/**
 * Facts that do not fit the columns.
 * @param {Facts} row @param {string} heard  its levels in words @param {boolean} amplified
 */
function detailsOf(row, heard, amplified) {
  return [
    row.connection_text,
    heard,
    row.resonances.length === 0 ? "" : `resonance ${showHz(row.resonances[0].frequency_hz)}`,
    nearestInWords(row, amplified),
    row.brightness_hz ? `brightness ${showHz(row.brightness_hz)}` : "",
    row.hum_db === null
      ? ""
      : row.hum_db < NO_HUM_DB
        ? "hum left below −60 dB"
        : `hum left ${showDb(row.hum_db)}`,
  ]
    .filter(Boolean)
    .join(" · ");
}
