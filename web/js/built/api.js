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
/** @typedef {{cautions: string[], settings: PlannedSetting[], spreads: string[]}} Plan */
/** @typedef {"within" | "too low" | "too high" | "problem"} Side */
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
/** @typedef {{text: string, read: number, planned: number, outside: number}} Verdict */
/** @typedef {{name: string, came: string, frequencies: number} & Partial<Recorded>} Told  a file that came */
/** @typedef {"open" | "short" | "known"} RigStep */
/** @typedef {{version: string, known: string, meter: Record<string, string>}} Fields  what was typed */
/**
 * @typedef {object} JackReadings
 * @property {Record<RigStep, Told | null>} rig
 * @property {Record<string, Told>} recordings  by setting
 * @property {Fields} fields
 * @property {Record<string, string>} signed  dates by version
 * @property {string} waiting  why recordings say nothing yet; empty: they do
 * @property {{readings: Judged[], verdict: Verdict, text: string} | null} judged  text: the table of readings
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
/** @param {string} wiring @param {Fields} fields @returns {Promise<JackReadings>} */
export const keepFields = (wiring, fields) =>
  requestJson("PUT", `${PLACE}/readings?${queryText({ wiring })}`, { body: fields, keepalive: true });
/**
 * @param {string} wiring @param {RigStep | "guitar" | "all"} step @param {string} [setting]
 * @returns {Promise<JackReadings>}
 */
export const dropReadings = (wiring, step, setting) =>
  requestJson("DELETE", `${PLACE}/readings?${queryText({ wiring, step, setting })}`);
/**
 * @param {Where & {step: RigStep | "guitar", setting?: string}} where @param {File} file
 * @param {(share: number) => void} onProgress
 * @returns {{done: Promise<JackReadings>, stop: () => void}}
 */
export const bringRecording = (where, file, onProgress) =>
  upload(`${PLACE}/recordings?${queryText({ ...where, name: file.name.slice(-200) })}`, file, onProgress);
