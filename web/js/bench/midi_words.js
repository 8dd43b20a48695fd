/** What a MIDI file holds and how this instrument plays it, in words. */

import { counted } from "../shared/words.js";
import { showSeconds } from "../shared/units.js";

/** @import {Problem} from "../shared/types.js" */
/**
 * @typedef {{track: number, name: string, channels: number[], notes: number}} Part
 * @typedef {{parts: Part[], notes: number, seconds: number, strings: "hand" | "channels" | "tracks",
 *   on: number[], left_out: Problem[], remarks: string[], problems: Problem[]}} Look  on: notes on each
 *   string, the highest first
 */

const ENDS = /\.(mid|midi|smf)$/i;
const HEAD = "MThd";
const PERCUSSION = 10;
const GUITAR = /guitar|gitarr?e?|guitarra|chitarra/i;

/** Whether a file is a MIDI file, by its name or its first bytes. @param {File} file */
export async function isMidi(file) {
  if (ENDS.test(file.name)) return true;
  const head = new Uint8Array(await file.slice(0, HEAD.length).arrayBuffer());
  return String.fromCharCode(...head) === HEAD;
}

/**
 * The track that is meant, if one alone is a guitar by its name; 0 for all.
 * @param {Part[]} parts
 */
export function meantTrack(parts) {
  const named = parts.filter(({ name }) => GUITAR.test(name));
  return parts.length > 1 && named.length === 1 ? named[0].track : 0;
}

/** @param {Part} part */
export function partWords({ track, name, channels, notes }) {
  const drums = channels.every((channel) => channel === PERCUSSION) ? ", percussion" : "";
  return `Track ${track}${name ? `, ${name}` : ""}${drums}: ${counted(notes, "note")}`;
}

/** How strings were given to the notes. @param {Look} look */
export function stringsWords({ strings, on }) {
  const used = on.flatMap((notes, k) => (notes ? [`${notes} on string ${k + 1}`] : []));
  const counts = used.length ? ` Notes: ${used.join(", ")}; string 1 is the highest.` : "";
  if (strings === "hand") return `A hand plays it where it is easiest.${counts}`;
  const what = strings === "channels" ? "channel" : "track";
  return `Each ${what} of the file is a string.${counts}`;
}

/** How much is played. @param {Look} look */
export function lengthWords({ notes, seconds, on }) {
  const played = on.reduce((sum, one) => sum + one, 0);
  const all = played === notes ? counted(notes, "note") : `${played} of ${counted(notes, "note")}`;
  return `${all}, ${showSeconds(seconds)}.`;
}

/** What is not played, a line each. @param {Look} look */
export const leftOutWords = ({ left_out: left }) =>
  left.map(({ where, got, allowed }) => `${where}: ${got}. Can be played: ${allowed}.`);
