/** The output control of every page: one law of the slider, and where it starts. */

/** Gain at the top of the slider, dB. The loudest position then plays at the limit of -14 LUFS. */
const TOP_DB = 6;
/** Gain from the top of the slider to its low end, dB. Below that end there is silence. */
const RANGE_DB = 40;
/** Where the slider starts: a gain of 0 dB, at which the loudest position plays at -20 LUFS. */
export const FIRST_STAND = 1 - TOP_DB / RANGE_DB;

/** The slider's stand in dB. @param {number} stand 0 to 1; silence at 0 */
const outputDb = (stand) => (stand > 0 ? TOP_DB - RANGE_DB * (1 - Math.min(stand, 1)) : -Infinity);

/** The slider's stand as a gain. @param {number} stand 0 to 1; silence at 0 */
export const outputGain = (stand) => 10 ** (outputDb(stand) / 20);

/** The slider's stand in words. @param {number} stand 0 to 1 */
export function outputWords(stand) {
  const db = Math.round(outputDb(stand));
  if (db === -Infinity) return "silent";
  if (db === 0) return "usual level";
  return `${Math.abs(db)} dB ${db > 0 ? "above" : "below"} the usual level`;
}
