import { s } from "./dom.js";

/** @import {Drawing} from "./coils_drawing.js" */

/** @param {Drawing} drawing */
export function coilsPicture({ width, height, pills, wires }) {
  return s(
    "svg",
    { class: "coils", viewBox: `0 0 ${width} ${height}`, "aria-hidden": "true" },
    ...wires.map(({ d, loose }) => s("path", { class: loose ? "wire loose" : "wire", d })),
    ...pills.map(({ x, y, width: w, height: tall, on }) =>
      s("rect", { class: on ? "on" : "off", x, y, width: w, height: tall, rx: w / 2 }),
    ),
    ...pills
      .filter(({ on, outOfPhase }) => on && outOfPhase)
      .map(({ x, y, width: w, height: tall }) =>
        s("line", { class: "notch", x1: x, x2: x + w, y1: y + tall / 2, y2: y + tall / 2 }),
      ),
  );
}
