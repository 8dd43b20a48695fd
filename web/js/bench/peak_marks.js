/** The peaks of the response as marks on the plot, and in words. */

import { fixed, showDb, showHz } from "../shared/units.js";
import { h, s } from "../shared/dom.js";

/** @import {Peak} from "./peaks.js" */
/** @import {Scale} from "../shared/plot.js" */
/**
 * @typedef {object} Marked  a curve and its peaks
 * @property {string} name
 * @property {string} mark  its class
 * @property {boolean} now
 * @property {number[]} hz
 * @property {(number | null)[]} db
 * @property {Peak[]} peaks
 */
/** @typedef {{x: number, y: number, anchor: "start" | "middle" | "end"}} Spot */

/** More words than these would cover one another. */
const MOST_NAMED = 2;
/** The size of a mark's words and their distance from the mark, px. */
const [WIDE, TALL, AWAY] = [124, 14, 10];

/** @param {Peak} peak */
export const peakWords = ({ hz, db }) => `${showHz(hz)}, ${showDb(db, true)}`;

/**
 * Where a mark's words cover the least of the curves: above it, left or right of it, or below.
 * @param {{x: number, y: number}} mark @param {{x: number, y: number}[]} points of the curves, px
 * @param {{x: number, y: number, width: number, height: number}} frame
 * @returns {Spot}
 */
export function spotOf({ x, y }, points, frame) {
  const right = frame.x + frame.width;
  const middle = Math.min(right - WIDE / 2, Math.max(frame.x + WIDE / 2, x));
  /** @type {(Spot & {left: number})[]} */
  const spots = [
    { x: middle, y: y - AWAY, anchor: "middle", left: middle - WIDE / 2 },
    { x: x - AWAY, y: y + 4, anchor: "end", left: x - AWAY - WIDE },
    { x: x + AWAY, y: y + 4, anchor: "start", left: x + AWAY },
    { x: middle, y: y + AWAY + TALL, anchor: "middle", left: middle - WIDE / 2 },
  ];
  /** @param {Spot & {left: number}} spot */
  const covers = ({ left, y: foot }) => {
    const outside = left < frame.x || left + WIDE > right || foot - TALL < frame.y - 2;
    const hit = points.filter(
      (point) => point.x > left && point.x < left + WIDE && point.y > foot - TALL && point.y < foot + 4,
    );
    return hit.length + (outside ? points.length : 0);
  };
  const [best] = spots.sort((a, b) => covers(a) - covers(b)); // equal ones stay in order
  return { x: best.x, y: best.y, anchor: best.anchor };
}

/**
 * The rings of all curves, and words beside those of the curve that sounds.
 * @param {Marked[]} curves
 * @param {{x: Scale, y: Scale, frame: {x: number, y: number, width: number, height: number}}} plot
 */
export function peakMarks(curves, { x, y, frame }) {
  const points = curves.flatMap(({ hz, db }) =>
    hz.flatMap((frequency, k) => {
      const level = db[k];
      return level === null ? [] : [{ x: x.to(frequency), y: y.to(level) }];
    }),
  );
  return curves.flatMap(({ mark, now, peaks }) => {
    const named = [...peaks].sort((a, b) => b.db - a.db).slice(0, now ? MOST_NAMED : 0);
    return peaks.flatMap((peak) => {
      const at = { x: x.to(peak.hz), y: y.to(peak.db) };
      const ring = s("circle", { class: `peak ${mark}`, cx: at.x, cy: at.y, r: now ? 5 : 3.5 });
      if (!named.includes(peak)) return [ring];
      const { anchor, ...spot } = spotOf(at, points, frame);
      return [ring, s("text", { class: "peak-words", ...spot, "text-anchor": anchor }, peakWords(peak))];
    });
  });
}

/** @param {Peak[]} peaks */
export const peaksInWords = (peaks) =>
  peaks.length
    ? `${peaks.length > 1 ? "peaks at" : "peak at"} ${peaks
        .map((peak) => `${peakWords(peak)} (rises ${fixed(peak.rise)} dB)`)
        .join("; ")}`
    : "no peak";

/** @param {Marked[]} curves */
export const peakLines = (curves) =>
  curves.map(({ name, mark, peaks }) =>
    h("li", {}, h("b", { class: mark }, name), ` ${peaksInWords(peaks)}`),
  );
