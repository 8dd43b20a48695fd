/** One pair of positions over frequency: the band predicted, and what was heard. */

import { h } from "../shared/dom.js";
import { frequencyTicks, linear, logarithmic, shortHz } from "../shared/plot.js";
import { pairText } from "./words.js";

/** @import {Pair} from "./api.js" */

export const WIDE = 640,
  TALL = 250;
const LEFT = 44,
  RIGHT = 10,
  TOP = 12,
  BOTTOM = 220;
const STEP_DB = 10,
  LEAST_DB = 12;

/**
 * Lay a pair out; bands that do not count are left out.
 * @param {Pair} pair @param {number[]} bands
 */
export function layOutPair({ heard_db, predicted_db, within_db }, bands) {
  const points = bands.flatMap((hz, k) => {
    const [heard, predicted, within] = [heard_db[k], predicted_db[k], within_db[k]];
    return heard === null || predicted === null || within === null ? [] : [{ hz, heard, predicted, within }];
  });
  if (!points.length) return null;
  const far = Math.max(
    LEAST_DB,
    ...points.map((one) => Math.max(Math.abs(one.heard), Math.abs(one.predicted) + one.within)),
  );
  const hz = /** @type {[number, number]} */ ([points[0].hz * 0.9, points[points.length - 1].hz * 1.1]);
  const x = logarithmic(hz, [LEFT, WIDE - RIGHT]),
    y = linear([-far, far], [BOTTOM, TOP]);
  const at = (/** @type {number} */ f, /** @type {number} */ db) =>
    `${x.to(f).toFixed(1)} ${y.to(db).toFixed(1)}`;
  const upper = points.map((one) => at(one.hz, one.predicted + one.within)),
    lower = points.map((one) => at(one.hz, one.predicted - one.within)).reverse();
  const levels = [];
  for (let db = -Math.floor(far / STEP_DB) * STEP_DB; db <= far; db += STEP_DB) levels.push(db);
  return {
    band: `M${[...upper, ...lower].join("L")}Z`,
    heard: `M${points.map((one) => at(one.hz, one.heard)).join("L")}`,
    dots: points.map((one) => ({
      cx: Number(x.to(one.hz).toFixed(1)),
      cy: Number(y.to(one.heard).toFixed(1)),
      outside: Math.abs(one.heard - one.predicted) > one.within,
    })),
    columns: frequencyTicks(...hz).map((tick) => ({ x: x.to(tick), text: shortHz(tick) })),
    rows: levels.map((db) => ({ y: y.to(db), text: `${db < 0 ? "−" : ""}${Math.abs(db)}` })),
  };
}

/**
 * @param {string} name @param {Record<string, string | number>} attributes
 * @param {...(Node | string)} inside
 */
function s(name, attributes, ...inside) {
  const element = document.createElementNS("http://www.w3.org/2000/svg", name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, String(value));
  element.append(...inside);
  return element;
}

/** @param {Pair} pair @param {number[]} bands @returns {Node} */
export function pairChart(pair, bands) {
  const laid = layOutPair(pair, bands);
  if (!laid) return h("p", { class: "soft small" }, "No band is heard in both.");
  return s(
    "svg",
    { viewBox: `0 0 ${WIDE} ${TALL}`, class: "verify-chart", role: "img", "aria-label": pairText(pair) },
    ...laid.rows.flatMap(({ y, text }) => [
      s("line", { x1: LEFT, x2: WIDE - RIGHT, y1: y, y2: y, class: "grid" }),
      s("text", { x: LEFT - 6, y: y + 4, "text-anchor": "end" }, text),
    ]),
    ...laid.columns.map(({ x, text }) => s("text", { x, y: TALL - 12, "text-anchor": "middle" }, text)),
    s("path", { d: laid.band, class: "predicted" }),
    s("path", { d: laid.heard, class: "heard" }),
    ...laid.dots.map(({ cx, cy, outside }) =>
      s("circle", { cx, cy, r: outside ? 4 : 2.5, class: outside ? "outside" : "inside" }),
    ),
  );
}
