/** The readings that stand in the fields, for whoever asks what they say: as a table of readings. */

import { getReadings } from "./api.js";

/** @import {WiringRow} from "../shared/types.js" */
/** @import {Fields, JackReadings} from "./api.js" */

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

/**
 * The version that a guitar is judged against first: that of last time, the one signed last, the bench's.
 * @param {WiringRow} wiring @param {JackReadings} readings @param {string} heard
 */
export function startVersion(wiring, { fields, signed }, heard) {
  const there = wiring.versions.map(({ id }) => id);
  const signedLast = [...wiring.versions].sort((a, b) => b.number - a.number).find(({ id }) => id in signed);
  return there.includes(fields.version) ? fields.version : (signedLast?.id ?? heard);
}

/**
 * Fields, or a change of them, with a change after it: of the meter each setting by itself.
 * @template {Partial<Fields>} Of @param {Of} before @param {Partial<Fields>} change @returns {Of}
 */
export const withChange = (before, change) => ({
  ...before,
  ...change,
  ...((before.meter || change.meter) && { meter: { ...before.meter, ...change.meter } }),
  ...((before.excited || change.excited) && { excited: withExcited(before.excited, change.excited) }),
});

/**
 * An exciter's readings with others in their place: each setting of each by itself.
 * @param {Fields["excited"]} [before] @param {Fields["excited"]} [change] @returns {Fields["excited"]}
 */
const withExcited = (before = {}, change = {}) => ({
  ...before,
  ...Object.fromEntries(Object.entries(change).map(([what, of]) => [what, { ...before[what], ...of }])),
});
