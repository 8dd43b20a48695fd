/** Requests about the finished guitar: its faults, and the cautions at a bench. */

import { requestJson } from "../shared/http.js";

/** @import {Draft} from "../shared/types.js" */

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
/** @typedef {{setting: string, what: "meter" | "recording", gain_nats: number}} Next */
/**
 * @typedef {object} Answer
 * @property {Line[]} classes  the likeliest first
 * @property {string | null} unexplained
 * @property {Next | null} next
 * @property {string[]} unseen
 * @property {string[]} harmless
 * @property {number} readings
 */

/** @param {Draft} draft @param {AbortSignal} [signal] @returns {Promise<Book>} */
export const startFaults = (draft, signal) => requestJson("POST", "/api/faults", { body: { draft }, signal });
/**
 * @param {Draft} draft @param {string} readings a table @param {boolean} rig whether there is one
 * @param {AbortSignal} [signal] @returns {Promise<Answer>}
 */
export const answerFaults = (draft, readings, rig, signal) =>
  requestJson("POST", "/api/faults/answer", { body: { draft, readings, rig }, signal });
/** @returns {Promise<{cautions: string[]}>} */
export const getCautions = () => requestJson("GET", "/api/rig");
