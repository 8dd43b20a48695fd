/** The rig as a drawing: output, resistor, coil in its tin, and what both inputs read. */

import { s } from "../shared/dom.js";

const WORDS =
  "The headphone output's tip leads through a series resistor of 100 kΩ to the coil's start. Input 1 reads " +
  "before the resistor, input 2 at the coil. The sleeves of output and inputs and the coil's finish are joined. " +
  "A tin around the coil is joined to the sleeves.";

/** @param {number} x @param {number} y @param {string} text @param {string} [anchor] */
const label = (x, y, text, anchor = "middle") => s("text", { x, y, "text-anchor": anchor }, text);
/** @param {string} d @param {string} [name] */
const line = (d, name) => s("path", { d, class: name });
/** @param {number} x @param {number} y @param {number} width @param {string} title */
const box = (x, y, width, title) => [
  s("rect", { x, y, width, height: 54, rx: 4, class: "device" }),
  label(x + width / 2, y + 24, title),
];
/** @param {number} cx @param {number} cy */
const dot = (cx, cy) => s("circle", { cx, cy, r: 4, class: "joint" });

/** Four turns downwards. @param {number} x @param {number} y */
const turns = (x, y) =>
  `M${x} ${y}${[0, 1, 2, 3].map((k) => `A9 9 0 0 1 ${x} ${y + 18 * (k + 1)}`).join("")}`;

/** A sleeve: three bars below a short line. @param {number} x @param {number} y */
const sleeve = (x, y) => line(`M${x} ${y}v12m-11 0h22m-18 5h14m-10 5h6`, "sleeve");

/** @returns {SVGSVGElement} */
export const rigDrawing = () =>
  s(
    "svg",
    { class: "rig-drawing", viewBox: "0 0 640 272", role: "img", "aria-label": WORDS },
    ...box(10, 118, 140, "Headphone output"),
    label(80, 160, "tip"),
    sleeve(80, 172),
    ...box(196, 10, 92, "Input 1"),
    ...box(392, 10, 92, "Input 2"),
    sleeve(220, 64),
    sleeve(416, 64),
    line("M150 145H290M390 145H556V164M254 64V145M450 64V145"),
    s("rect", { x: 290, y: 133, width: 100, height: 24, class: "resistor" }),
    label(340, 178, "100 kΩ, in series"),
    dot(254, 145),
    dot(450, 145),
    label(244, 134, "A", "end"),
    label(440, 134, "B", "end"),
    s("rect", { x: 500, y: 120, width: 128, height: 140, rx: 10, class: "tin" }),
    line(turns(556, 164)),
    sleeve(556, 236),
    label(572, 160, "start", "start"),
    label(572, 240, "finish", "start"),
    label(544, 204, "coil", "end"),
    label(628, 112, "tin, joined to the sleeves", "end"),
    sleeve(30, 222),
    label(52, 240, "sleeve: all of these are joined", "start"),
  );
