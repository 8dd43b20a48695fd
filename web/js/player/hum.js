/**
 * Hum of a room, added to the stems before the filters: circuit, knobs and chain treat it as a string's
 * voltage. It has a clock of its own and repeats without a seam, so it goes on over the ends of loops, over
 * flips and through pauses of the take.
 */

import { responseOf } from "./bank.js";

/** @import {HumRecord} from "../shared/types.js" */
/** @import {Frame} from "./frames.js" */
/**
 * @typedef {object} Hum
 * @property {Float64Array} wave  What one turn of 1 m² gets, V, whole periods of it.
 * @property {number[][]} partials  The same as pairs of frequency and rms.
 * @property {number[]} areas  Each coil's turns times area, m², signed by its winding.
 */

/** @param {ArrayLike<number>} a @param {ArrayLike<number>} b */
const alike = (a, b) => a.length === b.length && Array.prototype.every.call(a, (v, i) => v === b[i]);

/** @param {Hum | null} a @param {Hum | null} b */
export const sameHum = (a, b) =>
  a === b || (a !== null && b !== null && alike(a.areas, b.areas) && alike(a.wave, b.wave));

/**
 * The hum of a room in the coils of a draft.
 * @param {HumRecord} record @param {{room: string, mains: number}} choice @param {number[]} areas
 * @returns {Hum}
 */
export function humOf(record, choice, areas) {
  const { microtesla, wave, partials } = chosenHum(record, choice);
  return {
    wave: Float64Array.from(wave, (v) => v * microtesla),
    partials: partials.map(([hz, rms]) => [hz, rms * microtesla]),
    areas,
  };
}

/**
 * A room and its mains; the first of what is not known.
 * @param {HumRecord} record @param {{room: string, mains: number}} choice
 */
export function chosenHum({ rooms, mains }, choice) {
  const room = rooms.find(({ name }) => name === choice.room) ?? rooms[0];
  return { ...room, ...(mains.find(({ hz }) => hz === choice.mains) ?? mains[0]) };
}

/**
 * Add hum to samples of every coil.
 * @param {Hum} hum @param {number} clock  of the first @param {number} n
 * @param {Float64Array[]} rows @param {number} at
 */
export function addHum({ wave, areas }, clock, n, rows, at) {
  const first = clock % wave.length;
  for (let k = 0; k < areas.length; k++) {
    const row = rows[k],
      area = areas[k];
    let place = first < 0 ? first + wave.length : first;
    for (let i = 0; i < n; i++) {
      row[at + i] += area * wave[place];
      place = place + 1 === wave.length ? 0 : place + 1;
    }
  }
}

/**
 * How loud hum is through filters, LUFS. The weighting of loudness is left out: below 1 kHz it takes away.
 * @param {Hum | null} hum @param {Frame} frame @param {number} rate  Hz
 * @param {(hz: number) => number} [behind]  gain of what follows, a factor
 */
export function humLufs(hum, frame, rate, behind = () => 1) {
  if (!hum) return -Infinity;
  let power = 0;
  for (const [hz, rms] of hum.partials) {
    let re = 0,
      im = 0;
    hum.areas.forEach((area, k) => {
      const [a, b] = responseOf(frame, k, hz / rate);
      re += area * a;
      im += area * b;
    });
    power += (rms * Math.hypot(re, im) * behind(hz)) ** 2;
  }
  return 10 * Math.log10(power);
}
