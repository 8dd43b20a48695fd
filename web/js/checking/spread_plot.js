/** The response of many instruments as a picture: a band around the nominal curve, and the farthest two. */

import { h, s, uid } from "../shared/dom.js";
import { layOutPlot } from "../shared/plot.js";
import { gridElements } from "../shared/plot_grid.js";

/** @import {SpreadCurves} from "./api.js" */

const WIDE = 420,
  TALL = 220,
  SHOWN_DB = 18;
/** Below it and above it little differs. @type {[number, number]} */
const SHOWN_HZ = [300, 10_000];

/**
 * The levels that show some curves: a multiple of 6 on top.
 * @param {number[][]} curves @returns {[number, number]}
 */
export function rangeOf(curves) {
  const top = Math.ceil((Math.max(...curves.flat()) + 1) / 6) * 6;
  return [top - SHOWN_DB, top];
}

/**
 * The path around a band.
 * @param {number[]} hz @param {number[]} low @param {number[]} high @param {(hz: number[], db: number[]) =>
 *   string} path
 */
export const bandPath = (hz, low, high, path) =>
  `${path(hz, high)}${path([...hz].reverse(), [...low].reverse()).replace(/^M/, "L")}Z`;

/**
 * @param {SpreadCurves} curves @param {number} k the setting @param {string} words for who does not see it
 */
export function spreadPlot({ frequencies_hz: hz, nominal_db, low_db, high_db, ends_db }, k, words) {
  const range = rangeOf([high_db[k], nominal_db[k]]);
  const plot = layOutPlot({ wide: WIDE, tall: TALL, hz: SHOWN_HZ, range });
  const clip = uid("clip");
  return h(
    "div",
    { class: "spread-frame" },
    s(
      "svg",
      { class: "spread-plot", viewBox: `0 0 ${WIDE} ${TALL}`, role: "img", "aria-label": words },
      s("clipPath", { id: clip }, s("rect", plot.frame)),
      ...gridElements(plot),
      s(
        "g",
        { "clip-path": `url(#${clip})` },
        s("path", { class: "band", d: bandPath(hz, low_db[k], high_db[k], plot.path) }),
        ...ends_db.map((end, which) => s("path", { class: `end end-${which}`, d: plot.path(hz, end[k]) })),
        s("path", { class: "nominal", d: plot.path(hz, nominal_db[k]) }),
      ),
    ),
  );
}
