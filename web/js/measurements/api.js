/** Requests about measured coils: the rig, what was read, its fit, one's own coils. */

import { queryText, requestJson, upload } from "../shared/http.js";

/** @typedef {"open" | "short" | "known" | "coil" | "second" | "series" | "table"} Step */
/** @typedef {"rig" | "table" | "bridge" | "peaks"} Source */
/** @typedef {{name: string, came: string, signal: string, frequencies: number, level_dbfs: number, hum_dbfs:
 *   number | null}} Told  a recording in short; hum: null for noise and sweeps */
/**
 * @typedef {object} Fields  What was typed.
 * @property {Source} source
 * @property {string} known
 * @property {string} dc
 * @property {string} celsius
 * @property {string} second  the other coil of its housing; empty for none
 * @property {string} dc_second
 * @property {boolean} turn
 * @property {{at: string, ls: string, rs: string}[]} bridge
 * @property {{across: string, at: string}[]} peaks
 * @property {string} height
 */
/** @typedef {{frequencies_hz: number[], real: number[], imag: number[]}} Points  an impedance, ohms */
/**
 * @typedef {object} Result
 * @property {string} day
 * @property {string} method
 * @property {string} comment
 * @property {CoilValues} fields
 * @property {CoilRecord} record
 * @property {Points | null} curve  what was read
 * @property {Points} model  what was fitted
 * @property {{part: string, fields: CoilValues, record: CoilRecord}} [second]  the other coil of the housing
 * @property {number} [coefficient]  of both coils
 * @property {[number, number]} [interval]  of the coefficient
 */
/** @typedef {{resistance: string, inductance: string, capacitance: string, eddy: {share: string, corner:
 *   string}[]}} CoilValues  as a wiring file has them */
/** @typedef {{resistance_ohm: number, inductance_h: number, capacitance_f: number, eddy: {share: number,
 *   corner_hz: number}[], intervals: Record<string, [number, number]>, order: number, response_error_db?:
 *   number, notes: string[]}} CoilRecord */
/**
 * @typedef {object} Measurement
 * @property {Record<"open" | "short" | "known", Told | null>} rig
 * @property {Told | null} recording
 * @property {Told | null} second
 * @property {Told | null} series
 * @property {{name: string, came: string} | null} table
 * @property {Fields} fields
 * @property {Result | null} result
 */
/** @typedef {{name: string, day: string, method: string, comment: string, fields: CoilValues, has_curve:
 *   boolean}} OwnCoil */
/** @typedef {{cautions: string[], parts: string[], steps: string[]}} RigWords */
/** @typedef {{wiring: string, part: string}} Where */

const PLACE = "/api/measurements";
const id = encodeURIComponent;

/** @returns {Promise<RigWords>} */
export const getRig = () => requestJson("GET", "/api/rig");
/** @param {Where} where @returns {Promise<Measurement>} */
export const getMeasurement = (where) => requestJson("GET", `${PLACE}?${queryText(where)}`);
/** @param {Where} where @param {Fields} fields @returns {Promise<Measurement>} */
export const keepFields = (where, fields) =>
  requestJson("PUT", `${PLACE}?${queryText(where)}`, { body: fields, keepalive: true });
/** @param {Where} where @param {Step | "all"} step @returns {Promise<Measurement>} */
export const dropReading = (where, step) =>
  requestJson("DELETE", `${PLACE}?${queryText({ ...where, step })}`);
/**
 * @param {Where} where @param {Step} step @param {File} file @param {(share: number) => void} onProgress
 * @returns {{done: Promise<Measurement>, stop: () => void}}
 */
export const bringReading = (where, step, file, onProgress) =>
  upload(
    `${PLACE}/recordings?${queryText({ ...where, step, name: file.name.slice(-200) })}`,
    file,
    onProgress,
  );
/** @param {Where} where @returns {Promise<Measurement>} */
export const fitMeasurement = (where) => requestJson("POST", `${PLACE}/fit?${queryText(where)}`);
/** @param {Where} where @param {string} name @returns {Promise<OwnCoil[]>} */
export const keepCoil = (where, name) =>
  requestJson("POST", `${PLACE}/keep?${queryText(where)}`, { body: { name } });

/** @returns {Promise<OwnCoil[]>} */
export const listCoils = () => requestJson("GET", "/api/coils");
/** The address of a coil with its curve. @param {string} name */
export const coilUrl = (name) => `/api/coils/${id(name)}`;
/** @param {string} name @param {string} to @returns {Promise<OwnCoil>} */
export const renameCoil = (name, to) => requestJson("PUT", coilUrl(name), { body: { name: to } });
/** @param {string} name @returns {Promise<{id: string}>} */
export const removeCoil = (name) => requestJson("DELETE", coilUrl(name));
/** @param {string} removed its id @returns {Promise<OwnCoil>} */
export const restoreCoil = (removed) => requestJson("POST", `${coilUrl(removed)}/restore`);
