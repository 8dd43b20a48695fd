/** Requests about finished guitars: what to read, what was read, what it says. */

import { queryText, requestJson, upload } from "../shared/http.js";

/** @import {Recorded} from "../shared/recordings.js" */

/** @typedef {{what: string, title: string, expected: string, band: string}} Point  of a plan, in words */
/**
 * @typedef {object} PlannedSetting
 * @property {string} setting  as a table of readings names it
 * @property {string} position
 * @property {string} label  of the position; may be empty
 * @property {{name: string, value: string}[]} controls  knobs that are not at 10, switches not at their first
 * @property {Point[]} points
 */
/** @typedef {{what: string, expected: string, band: string}} ExcitedPoint */
/**
 * @typedef {object} ExcitedCoil  What to read over one coil.
 * @property {string} coil
 * @property {string} typed  what a level typed by hand is called
 * @property {{setting: string, points: ExcitedPoint[]}[]} settings
 * @property {{setting: string, what: string, expected: string}[]} blade
 */
/**
 * @typedef {object} ExciterPlan
 * @property {string[]} cautions  beside the plan's
 * @property {string[]} parts
 * @property {string[]} steps
 * @property {ExcitedCoil[]} coils
 */
/**
 * @typedef {object} Plan
 * @property {string[]} cautions
 * @property {PlannedSetting[]} settings
 * @property {string[]} spreads
 * @property {ExciterPlan} exciter
 */
/**
 * @typedef {"within" | "too low" | "too high" | "turned" | "held to" | "not judged" | "problem" |
 *   "unplanned"} Side
 */
/**
 * @typedef {object} Judged  One reading.
 * @property {string} setting
 * @property {string} what
 * @property {string} value  as typed or recorded
 * @property {string} source  the recording's file; empty for the meter
 * @property {string} expected
 * @property {string} band
 * @property {Side} side
 * @property {string} read  how it was understood
 * @property {string} words  what open or zero means, or what is allowed
 */
/**
 * @typedef {{text: string, read: number, planned: number, outside: number, sides_kept?: boolean}} Verdict
 *   sides_kept: of a kept instrument, whether the same side of the exciter faced every coil
 */
/** @typedef {{name: string, came: string, frequencies: number} & Partial<Recorded>} Told  a file that came */
/** @typedef {"open" | "short" | "known"} RigStep */
/**
 * @typedef {object} Fields  What was typed.
 * @property {string} version  that the guitar is judged against
 * @property {string} known  the known resistor
 * @property {Record<string, string>} meter  by setting
 * @property {boolean} sides_kept  whether the same side of the exciter faced every coil
 * @property {Record<string, Record<string, string>>} excited  by what was read, then by setting
 * @property {string} serial
 * @property {string} day
 * @property {string} notes
 * @property {string} of  the instrument that is read again; empty for a new one
 * @property {number} base  its state
 * @property {Record<string, {name: string, came: string, values: Record<string, string>}>} impedance  of it
 */
/**
 * @typedef {object} JackReadings
 * @property {Record<RigStep, Told | null>} rig
 * @property {Record<string, Told>} recordings  by setting
 * @property {Fields} fields
 * @property {Record<string, string>} signed  dates by version
 * @property {string} waiting  why recordings say nothing yet; empty: they do
 * @property {{readings: Judged[], verdict: Verdict, text: string} | null} judged  text: the table of readings
 * @property {boolean} [thrown]  whether readings were thrown away and can come back
 */
/** @typedef {{wiring: string, version: string}} Where */

const PLACE = "/api/built";

/** @param {string} version @param {AbortSignal} [signal] @returns {Promise<Plan>} */
export const getPlan = (version, signal) =>
  requestJson("GET", `${PLACE}/plan?${queryText({ version })}`, { signal });
/**
 * @param {string} wiring @param {string} [version] @param {AbortSignal} [signal]
 * @returns {Promise<JackReadings>}
 */
export const getReadings = (wiring, version, signal) =>
  requestJson("GET", `${PLACE}/readings?${queryText({ wiring, version })}`, { signal });
/**
 * Keep what was typed; what is not sent stays, of the meter each setting by itself.
 * @param {string} wiring @param {Partial<Fields>} change @returns {Promise<JackReadings>}
 */
export const keepFields = (wiring, change) =>
  requestJson("PUT", `${PLACE}/readings?${queryText({ wiring })}`, { body: change, keepalive: true });
/**
 * @param {string} wiring @param {RigStep | "guitar" | "all"} step @param {string} [setting]
 * @returns {Promise<JackReadings>}
 */
export const dropReadings = (wiring, step, setting) =>
  requestJson("DELETE", `${PLACE}/readings?${queryText({ wiring, step, setting })}`);
/**
 * Bring back what was thrown away last; what stands is thrown away instead.
 * @param {string} wiring @returns {Promise<JackReadings>}
 */
export const bringBack = (wiring) => requestJson("POST", `${PLACE}/readings/back?${queryText({ wiring })}`);
/**
 * @param {Where & {step: RigStep | "guitar" | "exciter", setting?: string, coil?: string}} where
 * @param {File} file
 * @param {(share: number) => void} onProgress
 * @returns {{done: Promise<JackReadings>, stop: () => void}}
 */
export const bringRecording = (where, file, onProgress) =>
  upload(`${PLACE}/recordings?${queryText({ ...where, name: file.name.slice(-200) })}`, file, onProgress);

/**
 * @typedef {object} Instrument  A built instrument in one of its states.
 * @property {string} id
 * @property {string} wiring_id
 * @property {string} wiring  its name
 * @property {string} commission_id
 * @property {string} title  of the commission
 * @property {string} client
 * @property {number} version_number
 * @property {string} signed  date of the version's sign-off; empty for none
 * @property {string} serial
 * @property {number} number  of the state, from 1
 * @property {string} day
 * @property {string} notes
 * @property {string} saved
 * @property {string | null} archived
 * @property {(Omit<Judged, "words"> & {ohm: number | null})[]} readings
 * @property {Verdict} verdict
 */
/** @typedef {Instrument & {history: Instrument[]}} WithHistory  its earlier states, the newest first */

const RECORD = `${PLACE}/instruments`;
const id = encodeURIComponent;

/**
 * @param {{search?: string, wiring?: string, archived?: string}} of  archived: "true" for those put away
 * @param {AbortSignal} [signal] @returns {Promise<Instrument[]>}
 */
export const listInstruments = (of, signal) => requestJson("GET", `${RECORD}?${queryText(of)}`, { signal });
/** Keep what stands in the fields of a wiring. @param {string} wiring @returns {Promise<WithHistory>} */
export const keepInstrument = (wiring) => requestJson("POST", `${RECORD}?${queryText({ wiring })}`);
/** @param {string} built @returns {Promise<WithHistory>} */
export const getInstrument = (built) => requestJson("GET", `${RECORD}/${id(built)}`);
/** @param {string} built @param {boolean} archived */
export const setArchived = (built, archived) =>
  requestJson("PUT", `${RECORD}/${id(built)}/archived`, { body: { archived } });
/** Put an instrument's readings into the fields. @param {string} built */
export const openInstrument = (built) => requestJson("POST", `${RECORD}/${id(built)}/open`);
/** @param {string} built @param {"a4" | "letter"} paper */
export const reportUrl = (built, paper) => `${RECORD}/${id(built)}/report?${queryText({ paper })}`;
/** @param {string} search @param {"point" | "comma"} decimal */
export const csvUrl = (search, decimal) => `${PLACE}/record.csv?${queryText({ search, decimal })}`;
