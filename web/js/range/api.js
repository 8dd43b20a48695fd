/** Requests for the searches: the range of sounds, lug charts, a knob's travel and goal. */

import { queryText, requestJson } from "../shared/http.js";

/** @import {Draft, Edit, Setting} from "../shared/types.js" */
/** @import {ChartOptions, GoalOptions, RangeOptions} from "../session/ranging.js" */
/** @import {Profile, Search, SoundMap, SwitchRow} from "./words.js" */

const id = encodeURIComponent;

/**
 * @param {Draft} draft @param {RangeOptions} options @param {AbortSignal} [signal]
 * @returns {Promise<Search>}
 */
export const startRange = (draft, options, signal) =>
  requestJson("POST", "/api/range", { body: { draft, options }, signal });
/**
 * @param {Draft} draft @param {ChartOptions} options @param {AbortSignal} [signal]
 * @returns {Promise<Search>}
 */
export const startChart = (draft, options, signal) =>
  requestJson("POST", "/api/charts", { body: { draft, options }, signal });
/**
 * @param {Draft} draft @param {Setting} setting @param {string} knob @param {string} capacitor
 * @param {AbortSignal} [signal] @returns {Promise<Search>}
 */
export const startTravel = (draft, setting, knob, capacitor, signal) =>
  requestJson("POST", "/api/travels", { body: { draft, setting, knob, capacitor }, signal });
/**
 * @param {Draft} draft @param {Setting} setting @param {string} knob @param {GoalOptions} goal
 * @param {AbortSignal} [signal] @returns {Promise<Search>}
 */
export const startGoal = (draft, setting, knob, goal, signal) =>
  requestJson("POST", "/api/goals", { body: { draft, setting, knob, ...goal }, signal });
/**
 * Wait up to 25 s for the next result.
 * @param {string} search @param {number} after @param {AbortSignal} [signal]
 * @returns {Promise<Search>}
 */
export const waitForSearch = (search, after, signal) =>
  requestJson("GET", `/api/searches/${id(search)}?${queryText({ after })}`, { signal });
/** @param {string} search @returns {Promise<Search>} */
export const cancelSearch = (search) => requestJson("POST", `/api/searches/${id(search)}/cancel`);
/** @param {string} search @param {AbortSignal} [signal] @returns {Promise<SoundMap>} */
export const getSoundMap = (search, signal) =>
  requestJson("GET", `/api/searches/${id(search)}/map`, { signal });
/**
 * The address of a chart's document.
 * @param {string} search @param {"drawing.svg" | "chart.txt" | "wiring.yaml"} file
 */
export const chartFileAddress = (search, file) => `/api/searches/${id(search)}/${file}`;
/**
 * Save a chart as a new wiring or a new version.
 * @param {string} search
 * @param {{commission: string, name: string} | {wiring: string, base: string, note: string}} target
 * @returns {Promise<{wiring_id: string, version_id: string}>}
 */
export const saveChart = (search, target) =>
  requestJson("POST", `/api/searches/${id(search)}/keep`, { body: target });
/** @returns {Promise<Profile[]>} */
export const listProfiles = () => requestJson("GET", "/api/range/profiles");
/** @returns {Promise<SwitchRow[]>} */
export const listSwitches = () => requestJson("GET", "/api/switches");
/** The edits that replace a switch by a sketch. @param {Draft} draft @returns {Promise<{edits: Edit[]}>} */
export const getSketchEdits = (draft) => requestJson("POST", "/api/draft/sketch", { body: { draft } });
