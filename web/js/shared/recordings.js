/** Recordings of the rig in sentences, and its tone. */

import { queryText } from "./http.js";

/** @typedef {{signal: string, frequencies: number, level_dbfs: number, hum_dbfs: number | null}} Recorded  a
 *   recording in short; hum: null for noise and sweeps */

/** Levels of a recording that are told as such, dB of full scale. */
const QUIET = -40,
  LOUD = -6;
/** Hum that is told as much: this near to the tone, dB. */
const NEAR = 25;

/** What a recording is like. @param {Recorded} told @returns {{text: string, warn: string}} */
export function recordingText({ signal, frequencies, level_dbfs, hum_dbfs }) {
  const what =
    signal === "lines" ? `${frequencies} lines of a tone` : `noise or a sweep, ${frequencies} bands`;
  const hum = hum_dbfs === null ? "" : `, hum ${Math.round(hum_dbfs)} dB`;
  const warn =
    hum_dbfs !== null && hum_dbfs > level_dbfs - NEAR
      ? "Much hum: put the coil in its tin, and keep it from transformers."
      : level_dbfs < QUIET
        ? "Quiet: a higher level makes the values surer."
        : level_dbfs > LOUD
          ? "Loud: nearly clipped."
          : "";
  return { text: `${what}, level ${Math.round(level_dbfs)} dB${hum}`, warn };
}

/** @param {string} iso */
export const whenText = (iso) =>
  new Date(iso).toLocaleString(undefined, { dateStyle: "medium", timeStyle: "short" });

/** The address of the tone as a sound file. @param {number} rate @param {number} seconds */
export const toneUrl = (rate, seconds) => `/api/rig/tone?${queryText({ rate, seconds })}`;
