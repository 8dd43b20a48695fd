/** An impedance over frequency as data: two fields, size above phase, with their grids. */

import { frequencyTicks, linear, logarithmic, shortHz } from "../shared/plot.js";

/** @import {Points} from "./api.js" */

const LEFT = 54,
  RIGHT = 12,
  SIZE = { top: 14, bottom: 210 },
  PHASE = { top: 228, bottom: 332 };
export const WIDE = 640,
  TALL = 362;
const LOWEST_HZ = 20,
  HIGHEST_HZ = 20_000;
const PHASES = [-90, -45, 0, 45, 90];

/** Size in ohms and phase in degrees. @param {Points} points */
export const polar = ({ frequencies_hz, real, imag }) =>
  frequencies_hz.map((hz, k) => ({
    hz,
    ohm: Math.hypot(real[k], imag[k]),
    degrees: (Math.atan2(imag[k], real[k]) * 180) / Math.PI,
  }));

/** @param {number} ohm */
export const shortOhm = (ohm) =>
  ohm >= 1e6 ? `${ohm / 1e6} MΩ` : ohm >= 1e3 ? `${ohm / 1e3} kΩ` : `${ohm} Ω`;

/**
 * Lay out what was read and what was fitted.
 * @param {Points | null} curve @param {Points} model
 */
export function layOutImpedance(curve, model) {
  const fitted = polar(model),
    read = curve ? polar(curve) : [];
  const all = [...fitted, ...read];
  const hz = /** @type {[number, number]} */ ([
    Math.min(LOWEST_HZ, ...all.map((one) => one.hz)),
    Math.max(HIGHEST_HZ, ...all.map((one) => one.hz)),
  ]);
  const decade = (/** @type {number} */ ohm, /** @type {"floor" | "ceil"} */ way) =>
    10 ** Math[way](Math.log10(ohm));
  const ohms = /** @type {[number, number]} */ ([
    decade(Math.min(...all.map((one) => one.ohm)), "floor"),
    decade(Math.max(...all.map((one) => one.ohm)) * 1.02, "ceil"),
  ]);
  const x = logarithmic(hz, [LEFT, WIDE - RIGHT]),
    y = logarithmic(ohms, [SIZE.bottom, SIZE.top]),
    p = linear([-95, 95], [PHASE.bottom, PHASE.top]);
  const ticks = frequencyTicks(...hz).filter((tick) => tick > hz[0]);
  const decades = [];
  for (let ohm = ohms[0]; ohm <= ohms[1] * 1.01; ohm *= 10) decades.push(ohm);
  const path = (/** @type {(one: {ohm: number, degrees: number}) => number} */ to) =>
    fitted.map((one, k) => `${k ? "L" : "M"}${x.to(one.hz).toFixed(1)} ${to(one).toFixed(1)}`).join("");
  const dots = (/** @type {(one: {ohm: number, degrees: number}) => number} */ to) =>
    read.map((one) => ({ cx: Number(x.to(one.hz).toFixed(1)), cy: Number(to(one).toFixed(1)) }));
  const toSize = (/** @type {{ohm: number}} */ { ohm }) => y.to(ohm),
    toPhase = (/** @type {{degrees: number}} */ { degrees }) => p.to(degrees);
  return {
    lines: [
      ...ticks.flatMap((tick) =>
        [SIZE, PHASE].map(({ top, bottom }) => ({ x1: x.to(tick), x2: x.to(tick), y1: top, y2: bottom })),
      ),
      ...decades.map((ohm) => ({ x1: LEFT, x2: WIDE - RIGHT, y1: y.to(ohm), y2: y.to(ohm) })),
      ...PHASES.map((at) => ({ x1: LEFT, x2: WIDE - RIGHT, y1: p.to(at), y2: p.to(at) })),
    ],
    texts: [
      ...ticks.map((tick) => ({ x: x.to(tick), y: TALL - 12, anchor: "middle", text: shortHz(tick) })),
      ...decades.map((ohm) => ({ x: LEFT - 6, y: y.to(ohm) + 4, anchor: "end", text: shortOhm(ohm) })),
      ...PHASES.map((at) => ({
        x: LEFT - 6,
        y: p.to(at) + 4,
        anchor: "end",
        text: `${at}°`.replace("-", "−"),
      })),
      { x: LEFT - 6, y: TALL - 12, anchor: "end", text: "Hz" },
    ],
    size: { path: path(toSize), dots: dots(toSize) },
    phase: { path: path(toPhase), dots: dots(toPhase) },
  };
}

/** The curve in one sentence, for who does not see it. @param {Points} model */
export function impedanceText(model) {
  const all = polar(model);
  const top = all.reduce((a, b) => (b.ohm > a.ohm ? b : a));
  return `Impedance over frequency: ${shortOhm(Number(all[0].ohm.toPrecision(3)))} at ${shortHz(Math.round(all[0].hz))}Hz, at most ${shortOhm(Number(top.ohm.toPrecision(3)))} at ${shortHz(Number(top.hz.toPrecision(3)))}Hz.`;
}
