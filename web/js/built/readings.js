/** The readings that stand in the fields, for whoever asks what they say: as a table of readings. */

import { getReadings } from "./api.js";

/** @import {JackReadings} from "./api.js" */

const HEAD = "setting;what;value\n";
let present = { wiring: "", version: "", text: HEAD };

/**
 * Remember what stands in the fields of a wiring.
 * @param {string} wiring @param {JackReadings} readings
 */
export function setPresent(wiring, { fields, judged }) {
  present = { wiring, version: fields.version, text: judged?.text ?? HEAD };
}

/** The readings as a table: a head, then setting, what and value, apart by semicolons. */
export const readingsText = () => present.text;

/** The version that the readings are judged against; empty before any. */
export const readingsVersion = () => present.version;

/**
 * The same after a reload, when nobody has opened the fields yet.
 * @param {string} wiring @param {AbortSignal} [signal]
 */
export async function loadReadings(wiring, signal) {
  if (present.wiring !== wiring) setPresent(wiring, await getReadings(wiring, undefined, signal));
  return readingsText();
}
