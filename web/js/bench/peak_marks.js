/** The peaks of the response as marks on the plot, and in words. */

import { fixed, showDb, showHz } from "../shared/units.js";
import { s } from "../shared/dom.js";

/** @import {Peak} from "./peaks.js" */
/** @import {Scale} from "../shared/plot.js" */
/** @typedef {{name: string, mark: string, now: boolean, peaks: Peak[]}} Marked  mark: its class */

/** More words than these would cover one another. */
const MOST_NAMED = 2;
/** The room of a mark's words and their distance from the mark, px. */
const ROOM = 130,
  AWAY = 10;

/** @param {Peak} peak */
export const peakWords = ({ hz, db }) => `${showHz(hz)}, ${showDb(db, true)}`;

/**
 * The rings of all curves, and words beside those of the curve that sounds.
 * @param {Marked[]} curves @param {{x: Scale, y: Scale, frame: {x: number, y: number, width: number}}} plot
 */
export function peakMarks(curves, { x, y, frame }) {
  return curves.flatMap(({ mark, now, peaks }) => {
    const named = [...peaks].sort((a, b) => b.db - a.db).slice(0, now ? MOST_NAMED : 0);
    return peaks.flatMap((peak) => {
      const [across, down] = [x.to(peak.hz), y.to(peak.db)];
      const ring = s("circle", { class: `peak ${mark}`, cx: across, cy: down, r: now ? 5 : 3.5 });
      if (!named.includes(peak)) return [ring];
      const left = across - frame.x > ROOM; // below a resonance the curve lies lower than its top
      const words = s(
        "text",
        {
          class: "peak-words",
          x: left ? across - AWAY : across + AWAY,
          y: Math.max(frame.y + AWAY, down) + 4,
          "text-anchor": left ? "end" : "start",
        },
        peakWords(peak),
      );
      return [ring, words];
    });
  });
}

/** @param {Marked[]} curves */
export const peaksInWords = (curves) =>
  curves
    .map(({ name, peaks }) => {
      const said = peaks.map((peak) => `${peakWords(peak)} (rises ${fixed(peak.rise)} dB)`);
      const what = said.length ? `${said.length > 1 ? "peaks at" : "peak at"} ${said.join("; ")}` : "no peak";
      return curves.length > 1 ? `${name}: ${what}` : what.charAt(0).toUpperCase() + what.slice(1);
    })
    .join(". ")
    .concat(".");
