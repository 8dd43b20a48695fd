/** The steps of a knob as bars, and the level along it as a line. */

import { fixed } from "../shared/units.js";
import { s } from "../shared/dom.js";

/** @import {Travel} from "./words.js" */

const WIDE = 420,
  TALL = 110,
  PAD = 26;

/** @param {Travel} travel @param {boolean} volume */
export function travelBars({ step_db: timbre, level_db: level, values }, volume) {
  const steps = volume
    ? level.slice(1).map((db, k) => Math.abs(Math.max(db, -60) - Math.max(level[k], -60)))
    : timbre;
  const most = Math.max(...steps, 1e-6),
    wide = (WIDE - 2 * PAD) / steps.length;
  const words = steps
    .map((step, k) => `${fixed(values[k])} to ${fixed(values[k + 1])}: ${fixed(step)} dB`)
    .join(", ");
  return s(
    "svg",
    {
      class: "travel-bars",
      viewBox: `0 0 ${WIDE} ${TALL + 34}`,
      role: "img",
      "aria-label": `Steps of the knob. ${words}`,
    },
    ...steps.map((step, k) =>
      s("rect", {
        class: "bar",
        x: PAD + k * wide + 1,
        width: wide - 2,
        y: 12 + TALL * (1 - step / most),
        height: Math.max(1, TALL * (step / most)),
      }),
    ),
    s("line", { class: "grid", x1: PAD, x2: WIDE - PAD, y1: 12 + TALL, y2: 12 + TALL }),
    ...[0, 5, 10].map((value) =>
      s(
        "text",
        { x: PAD + (value / 10) * (WIDE - 2 * PAD), y: TALL + 30, "text-anchor": "middle" },
        String(value),
      ),
    ),
    s("text", { x: 2, y: 10 }, `${fixed(most)} dB`),
  );
}

/**
 * The level along a knob as a line, in the same box as the bars.
 * @param {Travel} travel @param {number} start value of the knob from which the level counts
 */
export function levelLine({ level_db: level, values }, start) {
  const [low, high] = [Math.min(...level), Math.max(...level)],
    over = Math.max(high - low, 1);
  const x = (/** @type {number} */ k) => PAD + (k / (values.length - 1)) * (WIDE - 2 * PAD);
  const y = (/** @type {number} */ db) => 12 + (TALL / 2) * ((high - db) / over);
  const words = [0, 5, 10, 15, 20].map((k) => `${fixed(level[k])} dB at ${fixed(values[k])}`).join(", ");
  return s(
    "svg",
    {
      class: "travel-bars level",
      viewBox: `0 0 ${WIDE} ${TALL / 2 + 34}`,
      role: "img",
      "aria-label": `Level along the knob, re that at ${fixed(start, 0)}: ${words}`,
    },
    s("path", { class: "line", d: level.map((db, k) => `${k ? "L" : "M"}${x(k)} ${y(db)}`).join("") }),
    s("line", { class: "grid", x1: PAD, x2: WIDE - PAD, y1: 12 + TALL / 2, y2: 12 + TALL / 2 }),
    ...[0, 5, 10].map((value) =>
      s(
        "text",
        { x: x(2 * value), y: TALL / 2 + 30, "text-anchor": "middle" },
        `${fixed(level[2 * value])} dB`,
      ),
    ),
    s("text", { x: 2, y: 10 }, "level"),
  );
}
