/** Requests about soldered guitars: a fault in one, how far many differ, the cautions at a bench. */

import { requestJson } from "../shared/http.js";

/** @import {Draft, Edit} from "../shared/types.js" */

/** @typedef {{setting: string, position: string, label: string, switches: Record<string, string>, knobs:
 *   Record<string, number>}} FormSetting  `setting` as a table of readings names it */
/** @typedef {{word: string, about: string, knob: boolean}} Word */
/**
 * @typedef {object} Form  What may be entered.
 * @property {FormSetting[]} heard  where a word may be said
 * @property {FormSetting[]} knobs  where one may be said of a knob
 * @property {FormSetting[]} read
 * @property {Word[]} words
 */
/** @typedef {{id: string, after: number, state: string, phase?: string, share?: number, form?: Form, faults?:
 *   number, problems?: [string, string, string, string][]}} Book  the search that makes a wiring's book of
 *   faults */
/** @typedef {{kind: string, text: string, terminals: string[]}} Fault */
/** @typedef {{probability: number, sound: boolean, faults: Fault[]}} Line  faults that nothing tells apart */
/**
 * @typedef {object} Next
 * @property {string} setting
 * @property {"meter" | "recording" | "exciter" | "blade"} what
 * @property {string[]} coils  that an exciter lies over in turn, or a blade
 * @property {number} gain_nats
 */
/** @typedef {{rig: boolean, exciter: boolean, sides_kept: boolean}} Tools  at hand, and how they were used */
/**
 * @typedef {object} Answer
 * @property {Line[]} classes  the likeliest first
 * @property {string | null} unexplained
 * @property {Next | null} next
 * @property {boolean} clear  whether nothing more need be read
 * @property {string[]} unseen
 * @property {string[]} harmless
 * @property {number} readings
 */

/** @param {Draft} draft @param {AbortSignal} [signal] @returns {Promise<Book>} */
export const startFaults = (draft, signal) => requestJson("POST", "/api/faults", { body: { draft }, signal });
/**
 * @param {Draft} draft @param {string} readings a table @param {Tools} tools
 * @param {AbortSignal} [signal] @returns {Promise<Answer>}
 */
export const answerFaults = (draft, readings, tools, signal) =>
  requestJson("POST", "/api/faults/answer", { body: { draft, readings, ...tools }, signal });
/** @returns {Promise<{cautions: string[], exciter_cautions: string[]}>} */
export const getCautions = () => requestJson("GET", "/api/rig");

/**
 * @typedef {object} SpreadRow  Half widths that hold 95 % of the instruments, at one setting.
 * @property {string} setting
 * @property {number | null} resonance_hz
 * @property {number | null} semitones
 * @property {number | null} height_db
 * @property {number} level_db
 * @property {number} hum_db
 * @property {number} timbre_db
 * @property {number} farthest_db  of the same two at every setting
 * @property {number} farthest_band_db  the band of theirs that differs most
 */
/** @typedef {{part: string, share: number, selected_gain: number}} PartShare */
/**
 * @typedef {object} SpreadCurves  By setting, in the order of the rows.
 * @property {number[]} frequencies_hz
 * @property {number[][]} nominal_db
 * @property {number[][]} low_db
 * @property {number[][]} high_db
 * @property {number[][][]} ends_db
 */
/** @typedef {{passed: number, share: number, low: number, high: number}} Passed */
/** @typedef {{drawn: number, limits: ({limit: string, cost: number} & Passed)[], together: Passed, dearest:
 *   string | null}} LimitsKept */
/**
 * @typedef {object} SpreadSearch
 * @property {string} id
 * @property {number} after
 * @property {string} state
 * @property {string} [phase]
 * @property {number} [share]
 * @property {{built: number, drawn: number, settings: SpreadRow[], shares: PartShare[],
 *   worth_selecting: string | null, honest: string}} [spread]
 * @property {Edit[][]} [ends]  edits that make the farthest two
 * @property {SpreadCurves} [curves]
 * @property {LimitsKept} [limits]
 * @property {[string, string, string, string][]} [problems]
 */

/**
 * @param {Draft} draft @param {{built: number, cable: number, limits: string[]}} options
 * @param {AbortSignal} [signal] @returns {Promise<SpreadSearch>}
 */
export const startSpread = (draft, options, signal) =>
  requestJson("POST", "/api/spread", { body: { draft, options }, signal });
