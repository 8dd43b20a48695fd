/** The rig as a drawing: output, resistor, coil in its tin, and what both inputs read. */

import { s } from "../shared/dom.js";
import { box, dot, label, line, sleeve, turns } from "../shared/rig_symbols.js";

const WORDS =
  "The headphone output's tip leads through a series resistor of 100 kΩ to the coil's start. Input 1 reads " +
  "before the resistor, input 2 at the coil. The sleeves of output and inputs and the coil's finish are joined. " +
  "A tin around the coil is joined to the sleeves.";

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
