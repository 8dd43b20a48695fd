/** What drawings of a rig are put together from: devices, leads, turns, sleeves. */

import { s } from "./dom.js";

/** @param {number} x @param {number} y @param {string} text @param {string} [anchor] */
export const label = (x, y, text, anchor = "middle") => s("text", { x, y, "text-anchor": anchor }, text);
/** @param {string} d @param {string} [name] */
export const line = (d, name) => s("path", { d, class: name });
/** @param {number} x @param {number} y @param {number} width @param {string} title */
export const box = (x, y, width, title) => [
  s("rect", { x, y, width, height: 54, rx: 4, class: "device" }),
  label(x + width / 2, y + 24, title),
];
/** @param {number} cx @param {number} cy */
export const dot = (cx, cy) => s("circle", { cx, cy, r: 4, class: "joint" });

/** Four turns downwards. @param {number} x @param {number} y */
export const turns = (x, y) =>
  `M${x} ${y}${[0, 1, 2, 3].map((k) => `A9 9 0 0 1 ${x} ${y + 18 * (k + 1)}`).join("")}`;

/** A sleeve: three bars below a short line. @param {number} x @param {number} y */
export const sleeve = (x, y) => line(`M${x} ${y}v12m-11 0h22m-18 5h14m-10 5h6`, "sleeve");
