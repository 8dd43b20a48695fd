/** Requests about recordings of a finished guitar: what to record, what came, the verdict. */

import { queryText, requestJson, upload } from "../shared/http.js";

/** @import {Brought} from "../shared/file_place.js" */

/** @typedef {Brought & {seconds: number, strums: number, loudness_lufs: number | null}} Recording */
/** @typedef {{take: string, way: string, lufs: number | null}} Clip  lufs: null for silence */
/** @typedef {{number: number, label: string, clips: Clip[]}} Sound  one that was signed for */
/**
 * @typedef {object} PlannedSetting
 * @property {string} setting  as a table of readings names it
 * @property {string} label  of the position; may be empty
 * @property {Sound | null} sound
 * @property {Recording | null} recording
 */
/**
 * Causes that sound alike, the likeliest first.
 * @typedef {{causes: string[], more?: number}} Alike
 */
/** @typedef {Alike & {probability: number, terminals: string[]}} Likely */
/**
 * @typedef {object} JudgedRecording
 * @property {string} setting
 * @property {boolean} silent
 * @property {number | null} level_db  against the others, beyond what is predicted
 * @property {number | null} level_within_db  half the interval that holds 95 %
 * @property {string} words  what stands out; may be empty
 */
/**
 * @typedef {object} Pair
 * @property {string} first
 * @property {string} second
 * @property {boolean} agrees
 * @property {number | null} level_db
 * @property {number | null} predicted_level_db
 * @property {number | null} level_within_db
 * @property {(number | null)[]} heard_db  by band
 * @property {(number | null)[]} predicted_db
 * @property {(number | null)[]} within_db
 */
/**
 * @typedef {object} Verdict
 * @property {"as proposed" | "not as proposed" | "unsure"} verdict
 * @property {number} probability_sound
 * @property {Likely[]} likely
 * @property {boolean} named
 * @property {Alike} [unheard]  what these recordings cannot show; older verdicts do not say it
 * @property {number} [planned]  settings to record
 * @property {number} [planned_recorded]  how many of them were
 * @property {number[]} bands_hz
 * @property {JudgedRecording[]} recordings
 * @property {Pair[]} pairs
 * @property {string[]} notes
 */
/** @typedef {{frets: string, cable: string, input: string}} Fields */
/**
 * @typedef {object} Guitar
 * @property {string[]} cautions
 * @property {string[]} steps
 * @property {PlannedSetting[]} settings
 * @property {{id: string, name: string}[]} takes  of the proposal
 * @property {string[]} ways  in which its clips are heard
 * @property {Fields} fields
 * @property {Verdict | null} verdict  null after any change
 */

/** @param {string} proposal */
const place = (proposal) => `/api/verifying/${encodeURIComponent(proposal)}`;

/** @param {string} proposal @param {AbortSignal} signal @returns {Promise<Guitar>} */
export const getGuitar = (proposal, signal) => requestJson("GET", place(proposal), { signal });
/** @param {string} proposal @param {Fields} fields @returns {Promise<Guitar>} */
export const keepFields = (proposal, fields) => requestJson("PUT", place(proposal), { body: fields });
/** @param {string} proposal @returns {Promise<Guitar>} */
export const judge = (proposal) => requestJson("POST", `${place(proposal)}/verdict`);
/** @param {string} proposal @param {string} setting @returns {Promise<Guitar>} */
export const dropRecording = (proposal, setting) =>
  requestJson("DELETE", `${place(proposal)}/recordings?${queryText({ setting })}`);
/**
 * @param {string} proposal @param {string} setting @param {File} file
 * @param {(share: number) => void} onProgress
 * @returns {{done: Promise<Guitar>, stop: () => void}}
 */
export const bringRecording = (proposal, setting, file, onProgress) =>
  upload(
    `${place(proposal)}/recordings?${queryText({ setting, name: file.name.slice(-200) })}`,
    file,
    onProgress,
  );
/** @param {string} proposal @param {string} setting */
export const soundAddress = (proposal, setting) =>
  `${place(proposal)}/recordings/sound?${queryText({ setting })}`;
/** @param {string} proposal @param {number} number @param {Clip} clip */
export const clipAddress = (proposal, number, { take, way }) =>
  `${place(proposal)}/clips/${number}?${queryText({ take, way })}`;
