/** The grid of a response plot as elements. */

import { s } from "./dom.js";

/** @import {layOutPlot} from "./plot.js" */

/** Lines first, then their labels. @param {ReturnType<typeof layOutPlot>} plot */
export const gridElements = ({ lines, texts }) => [
  ...lines.map(({ zero, ...ends }) => s("line", { class: zero ? "grid zero" : "grid", ...ends })),
  ...texts.map(({ x, y, anchor, text }) => s("text", { x, y, "text-anchor": anchor }, text)),
];
