/** Requests about plucked strings: what to record, what came, how sensitive the coils are by it. */

import { queryText, requestJson, upload } from "../shared/http.js";

/** @import {Draft} from "../shared/types.js" */
/** @import {Brought} from "../shared/file_place.js" */

/** @typedef {{setting: string, string: number}} Place  string: its number, 1 the highest; 0: all strummed */
/** @typedef {Brought & Place & {id: string, seconds: number, strums: number}} Recording */
/**
 * @typedef {object} Plan
 * @property {string[]} cautions
 * @property {string[]} steps
 * @property {{setting: string, label: string}[]} settings
 * @property {{string: number, note: string}[]} strings  lowest first
 * @property {number[]} advised  strings to begin with
 * @property {string[]} coils  that hear strings
 * @property {string[]} hands
 * @property {string} basis  of the wiring, sensitivities aside
 * @property {Record<string, Sensed>} sensed  what each coil has
 */
/**
 * @typedef {object} Fields  What was typed and chosen.
 * @property {number[]} strings  empty: those that are advised
 * @property {string} hand
 * @property {string} reference  empty: the coil heard most
 * @property {string} frets
 * @property {string} cable
 * @property {string} input
 */
/** @typedef {{string: number, change_db: number | null, within_db: number}} Balance */
/**
 * @typedef {object} CoilResult
 * @property {string} coil
 * @property {boolean} told
 * @property {number | null} change_db  on the wiring's own
 * @property {number} within_db  half the interval that holds 95 %
 * @property {number | null} sensitivity
 * @property {[number, number] | null} interval
 * @property {string} reason  why it is not told
 * @property {Balance[]} balance
 * @property {number[] | null} string_balance
 */
/**
 * @typedef {object} Polarity
 * @property {[string, string]} coils
 * @property {string} setting
 * @property {string} wired
 * @property {string | null} heard
 * @property {number} probability_as_wired
 */
/** @typedef {{file: string, setting: string, string: number | null, compared: boolean}} Compared */
/** @typedef {{sensitivity: number, string_balance: number[]}} Sensed */
/** @typedef {{sensitivity: number, string_balance?: number[], comment: string}} Taken */
/**
 * @typedef {object} Result
 * @property {string} reference
 * @property {boolean} fits
 * @property {CoilResult[]} coils
 * @property {Polarity[]} polarities
 * @property {Compared[]} recordings
 * @property {string[]} notes
 * @property {string} day
 * @property {Record<string, Taken>} take  what becomes of the wiring
 * @property {Record<string, Sensed>} against
 * @property {Record<string, Sensed>} [sensed]  what each coil had
 * @property {{setting: string, string: number | null}[]} [gone]  recordings of what the wiring has no longer
 * @property {string} basis
 */
/**
 * @typedef {object} Plucked
 * @property {Recording[]} recordings
 * @property {Fields} fields
 * @property {Result | null} result  null after any change
 * @property {Recording | null} removed  thrown away or replaced last
 */

const PLACE = "/api/sensitivity";

/** @param {Draft} draft @param {AbortSignal} signal @returns {Promise<Plan>} */
export const getPlan = (draft, signal) => requestJson("POST", `${PLACE}/plan`, { body: { draft }, signal });
/** @param {string} wiring @param {AbortSignal} signal @returns {Promise<Plucked>} */
export const getPlucked = (wiring, signal) =>
  requestJson("GET", `${PLACE}?${queryText({ wiring })}`, { signal });
/** @param {string} wiring @param {Fields} fields @returns {Promise<Plucked>} */
export const keepFields = (wiring, fields) =>
  requestJson("PUT", `${PLACE}?${queryText({ wiring })}`, { body: fields, keepalive: true });
/**
 * @param {string} wiring @param {Place} place @param {File} file @param {(share: number) => void} onProgress
 * @returns {{done: Promise<Plucked>, stop: () => void}}
 */
export const bringRecording = (wiring, place, file, onProgress) =>
  upload(
    `${PLACE}/recordings?${queryText({ wiring, ...place, name: file.name.slice(-200) })}`,
    file,
    onProgress,
  );
/** @param {string} wiring @param {Place} place @returns {Promise<Plucked>} */
export const dropRecording = (wiring, place) =>
  requestJson("DELETE", `${PLACE}/recordings?${queryText({ wiring, ...place })}`);
/** @param {string} wiring @param {string} recording @returns {Promise<Plucked>} */
export const restoreRecording = (wiring, recording) =>
  requestJson(
    "POST",
    `${PLACE}/recordings/${encodeURIComponent(recording)}/restore?${queryText({ wiring })}`,
  );
/** @param {string} wiring @param {Draft} draft @returns {Promise<Plucked>} */
export const findSensitivities = (wiring, draft) =>
  requestJson("POST", `${PLACE}/find?${queryText({ wiring })}`, { body: { draft } });
