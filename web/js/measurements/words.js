/** Sentences about measured coils. */

/** @import {CoilRecord} from "./api.js" */

export const SOURCES = /** @type {const} */ ([
  { value: "rig", label: "Recordings at the rig" },
  { value: "table", label: "A table of impedance" },
  { value: "bridge", label: "An LCR bridge" },
  { value: "peaks", label: "Two peaks and a height" },
]);

export const STEPS = /** @type {const} */ ([
  { step: "open", title: "Open", about: "Nothing where the coil goes." },
  { step: "short", title: "Short", about: "Start and finish joined there." },
  { step: "known", title: "Known resistor", about: "The resistor there that you have read on the meter." },
  {
    step: "coil",
    title: "The coil",
    about: "At the same leads, in its tin; of two in one housing, the other open.",
  },
  { step: "second", title: "The other coil", about: "The first one open." },
  { step: "series", title: "Both in series", about: "The first one's finish joined to the other's start." },
]);

/** Readings that serve every coil of the rig. */
const OF_THE_RIG = ["open", "short", "known"];
/** What goes with a reading beside it, in words; empty: nothing. @param {string} step */
export const lossText = (step) =>
  OF_THE_RIG.includes(step)
    ? "This recording serves every coil read at the rig. With it go the results of all of them; their own recordings stay."
    : "";

export const RECORD_HERE =
  "Drop each file on its line, choose it, or record both inputs here while the tone plays.";
export const RECORD_ELSEWHERE =
  "Browsers let a page record on the server's own computer or over https alone. Record with another program, and drop or choose each file here.";

/** How far an interval reaches either way, per cent. @param {number} value @param {[number, number]} ends */
export const withinText = (value, [low, high]) => {
  const per = (100 * Math.max(high - value, value - low)) / value;
  return `± ${per < 10 ? per.toPrecision(2) : Math.round(per)} %`;
};

/** The name of each value, its unit's factor aside, and how it is written. */
export const VALUES = /** @type {const} */ ([
  { key: "resistance_ohm", field: "resistance", title: "Resistance at 20 °C" },
  { key: "inductance_h", field: "inductance", title: "Inductance" },
  { key: "capacitance_f", field: "capacitance", title: "Capacitance" },
]);

/** How many losses were found. @param {CoilRecord} record */
export const orderText = ({ order, response_error_db }) => {
  const losses = ["no eddy loss", "one eddy loss", "two eddy losses", "three eddy losses"][order];
  return response_error_db === undefined
    ? `Found with ${losses}.`
    : `Found with ${losses}. Into a usual load to 10 kHz the values give what was read within ${response_error_db.toFixed(2)} dB.`;
};

/** The coupling of two coils. @param {number} k @param {[number, number]} ends */
export const couplingText = (k, [low, high]) =>
  `${k.toFixed(4).replace("-", "−")}, between ${low.toFixed(4).replace("-", "−")} and ${high.toFixed(4).replace("-", "−")}`;

/** A name for an own coil, from the part's. @param {string} part */
export const nameFor = (part) => `our_${part}`.replace(/[^\p{L}\p{N}_-]/gu, "_").slice(0, 60);
