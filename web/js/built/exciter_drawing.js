/** The exciter at a finished guitar as a drawing: output, exciter over one coil, resistor, both inputs. */

import { s } from "../shared/dom.js";
import { box, dot, label, line, sleeve, turns } from "../shared/rig_symbols.js";

const WORDS =
  "The headphone output's tip leads through the exciter and then through 100 Ω to the sleeve. Input 1 reads " +
  "across the 100 Ω. The exciter lies over one coil of the guitar. Input 2 reads the guitar's jack through its " +
  "own cable. All sleeves are joined.";

/** @returns {SVGSVGElement} */
export const exciterDrawing = () =>
  s(
    "svg",
    { class: "rig-drawing", viewBox: "0 0 640 272", role: "img", "aria-label": WORDS },
    ...box(10, 10, 140, "Headphone output"),
    label(80, 52, "tip"),
    line("M150 37H226V64"),
    line(turns(226, 64)),
    label(210, 104, "exciter", "end"),
    line("M226 136V172"),
    s("rect", { x: 214, y: 172, width: 24, height: 52, class: "resistor" }),
    label(200, 202, "100 Ω", "end"),
    sleeve(226, 224),
    dot(226, 154),
    line("M226 154H150"),
    ...box(10, 127, 140, "Input 1"),
    s("rect", { x: 258, y: 30, width: 230, height: 196, rx: 14, class: "tin" }),
    line(turns(284, 64)),
    label(306, 104, "one coil", "start"),
    line("M284 136V166H360M284 64V48H420V166H400"),
    s("rect", { x: 360, y: 150, width: 60, height: 32, class: "device" }),
    label(390, 171, "wiring"),
    label(373, 214, "the guitar"),
    line("M420 166H500"),
    label(500, 154, "its cable", "start"),
    ...box(520, 172, 110, "Input 2"),
    line("M500 166H575V172"),
    label(260, 262, "sleeve: all of these are joined", "start"),
  );
