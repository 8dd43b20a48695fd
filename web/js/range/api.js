/** Requests for the searches: the range of sounds, lug charts, a knob's travel and goal. */

import { requestJson } from "../shared/http.js";

/** @import {Draft, Edit, Setting} from "../shared/types.js" */
/** @import {ChartOptions, GoalOptions, RangeOptions} from "../session/ranging.js" */
/** @import {Profile, Search, SoundMap, SwitchRow, Wired} from "./words.js" */

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
/** @param {string} search @param {AbortSignal} [signal] @returns {Promise<SoundMap>} */
export const getSoundMap = (search, signal) =>
  requestJson("GET", `/api/searches/${id(search)}/map`, { signal });
/**
 * The address of a chart's document.
 * @param {string} search @param {"drawing.svg" | "chart.txt" | "wiring.yaml"} file
 */
export const chartFileAddress = (search, file) => `/api/searches/${id(search)}/${file}`;
/** @returns {Promise<Profile[]>} */
export const listProfiles = () => requestJson("GET", "/api/range/profiles");
/** @returns {Promise<SwitchRow[]>} */
export const listSwitches = () => requestJson("GET", "/api/switches");
/** The switches of a draft as they are soldered. @param {Draft} draft @returns {Promise<Wired>} */
export const getWiredSwitches = (draft) => requestJson("POST", "/api/draft/switches", { body: { draft } });
/** The edits that replace a switch by a sketch. @param {Draft} draft @returns {Promise<{edits: Edit[]}>} */
export const getSketchEdits = (draft) => requestJson("POST", "/api/draft/sketch", { body: { draft } });
