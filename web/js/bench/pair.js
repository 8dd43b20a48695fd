/** A map of timbre over two knobs as data: distances, contours, and what a place is in words. */

import { fixed, showKnob } from "../shared/units.js";
import { plainName } from "../shared/words.js";

/**
 * @typedef {object} Pair
 * @property {[string, string]} knobs
 * @property {number[]} values  of either knob
 * @property {number[][][]} timbre  hundredths of a decibel, by the first knob, the second and the band
 * @property {(number | null)[][]} level_db  re both knobs at 10; null for silence
 * @property {(number | null)[][] | null} distance_db  timbre distance from both knobs at 10
 * @property {Row[]} rows  from 10 down
 * @property {string} text
 *
 * @typedef {object} Row  What the second knob does at a value of the first.
 * @property {number} value  of the first knob
 * @property {number} width_db
 * @property {number} evenness
 * @property {number} level_db
 * @property {number} changed_db  how far it is from what the second does with the first at 10
 *
 * @typedef {object} Field  Timbres on a grid fine enough to draw, and which places are silent.
 * @property {number} side  places along either knob
 * @property {number} bands
 * @property {Float32Array} points  decibels, by the first knob, the second and the band
 * @property {Uint8Array} silent
 */

/** Distances at which contours lie, dB. Half of the first is at the limit of what listeners notice. */
export const CONTOURS = [1, 2, 4, 8];
/** Places along a knob for each value that the server gives. */
const FINER = 4;

/** @param {Pair} pair @returns {Field} */
export function fieldOf({ timbre, level_db: level }) {
  const n = timbre.length,
    side = (n - 1) * FINER + 1,
    bands = timbre[0][0].length,
    points = new Float32Array(side * side * bands),
    silent = new Uint8Array(side * side),
    known = withoutSilence(timbre, level);
  for (let i = 0; i < side; i += 1)
    for (let j = 0; j < side; j += 1) {
      between(known, i / FINER, j / FINER, points.subarray((i * side + j) * bands));
      silent[i * side + j] = level[Math.round(i / FINER)][Math.round(j / FINER)] === null ? 1 : 0;
    }
  return { side, bands, points, silent };
}

/** Give a silent place the timbre of the nearest one heard: nothing has no timbre to blend with.
 * @param {number[][][]} timbre @param {(number | null)[][]} level */
function withoutSilence(timbre, level) {
  /** @type {[number, number][]} */
  const heard = [];
  level.forEach((row, i) => row.forEach((db, j) => db !== null && heard.push([i, j])));
  return timbre.map((row, i) =>
    row.map((here, j) => {
      if (level[i][j] !== null || heard.length === 0) return here;
      const far = heard.map(([a, b]) => (a - i) ** 2 + (b - j) ** 2);
      const [a, b] = heard[far.indexOf(Math.min(...far))];
      return timbre[a][b];
    }),
  );
}

/** Blend the four timbres around a place. @param {number[][][]} timbre @param {number} x @param {number} y
 * @param {Float32Array} into */
function between(timbre, x, y, into) {
  const i = Math.min(Math.floor(x), timbre.length - 2),
    j = Math.min(Math.floor(y), timbre.length - 2),
    u = x - i,
    v = y - j,
    [near, far] = [timbre[i], timbre[i + 1]];
  for (let k = 0; k < near[0].length; k += 1)
    into[k] =
      ((1 - u) * ((1 - v) * near[j][k] + v * near[j + 1][k]) +
        u * ((1 - v) * far[j][k] + v * far[j + 1][k])) /
      100;
}

/**
 * Timbre distances of every place from one, dB; NaN where nothing is heard.
 * @param {Field} field @param {number} first @param {number} second values of the knobs, 0 to 10
 */
export function distancesFrom({ side, bands, points, silent }, first, second) {
  const at = Math.round((first / 10) * (side - 1)) * side + Math.round((second / 10) * (side - 1)),
    found = new Float32Array(side * side);
  for (let place = 0; place < side * side; place += 1) {
    let sum = 0;
    for (let k = 0; k < bands; k += 1) sum += (points[place * bands + k] - points[at * bands + k]) ** 2;
    found[place] = silent[place] ? NaN : Math.sqrt(sum / bands);
  }
  return found;
}

/** The shade of a distance: how many contours lie below it. @param {number} db */
export const shadeOf = (db) => CONTOURS.filter((limit) => db >= limit).length;

/** Shades in words, the nearest first. */
export const SHADES = [
  `under ${CONTOURS[0]} dB`,
  ...CONTOURS.map((low, k) => (k + 1 < CONTOURS.length ? `${low} to ${CONTOURS[k + 1]}` : `over ${low} dB`)),
];

/**
 * One path for each shade: the places with it, as runs of squares. The first knob runs to the right, the
 * second upwards.
 * @param {Float32Array} distances @param {number} side @param {number} size of the picture
 * @returns {string[]} and a last one for silence
 */
export function shadePaths(distances, side, size) {
  const paths = Array(CONTOURS.length + 2).fill(""),
    step = size / (side - 1);
  const edge = (/** @type {number} */ k) => Math.min(size, Math.max(0, (k - 0.5) * step));
  const shadeAt = (/** @type {number} */ i, /** @type {number} */ j) => {
    const db = distances[i * side + j];
    return Number.isNaN(db) ? CONTOURS.length + 1 : shadeOf(db);
  };
  for (let j = 0; j < side; j += 1) {
    const top = size - edge(j + 1),
      tall = edge(j + 1) - edge(j);
    for (let from = 0, i = 1; i <= side; i += 1) {
      if (i < side && shadeAt(i, j) === shadeAt(from, j)) continue;
      const left = edge(from),
        wide = edge(i) - left;
      paths[shadeAt(from, j)] +=
        `M${left.toFixed(1)} ${top.toFixed(1)}h${wide.toFixed(1)}v${tall.toFixed(1)}h${(-wide).toFixed(1)}z`;
      from = i;
    }
  }
  return paths;
}

/**
 * The lines along which the distance has one value, as a path.
 * @param {Float32Array} distances @param {number} side @param {number} size @param {number} level dB
 */
export function contourPath(distances, side, size, level) {
  const step = size / (side - 1);
  let path = "";
  for (let i = 0; i + 1 < side; i += 1)
    for (let j = 0; j + 1 < side; j += 1) {
      // the square's corners in a ring; a contour crosses an edge whose ends lie on either side of the level
      const ring = [
        [i, j],
        [i + 1, j],
        [i + 1, j + 1],
        [i, j + 1],
      ];
      const db = ring.map(([a, b]) => distances[a * side + b]);
      if (db.some(Number.isNaN)) continue;
      /** @type {string[]} */
      const crossings = [];
      for (let k = 0; k < 4; k += 1) {
        const next = (k + 1) % 4;
        if (db[k] < level === db[next] < level) continue;
        const share = (level - db[k]) / (db[next] - db[k]),
          x = ring[k][0] + share * (ring[next][0] - ring[k][0]),
          y = ring[k][1] + share * (ring[next][1] - ring[k][1]);
        crossings.push(`${(x * step).toFixed(1)} ${(size - y * step).toFixed(1)}`);
      }
      for (let k = 0; k + 1 < crossings.length; k += 2) path += `M${crossings[k]}L${crossings[k + 1]}`;
    }
  return path;
}

/**
 * A place in words: the knobs, how far it is from both at 10, how loud.
 * @param {Pair} pair @param {number} first @param {number} second
 */
export function placeText({ knobs, values, level_db: level, distance_db: distance }, first, second) {
  const [one, other] = knobs.map(plainName);
  const where = `${one} ${showKnob(first)}, ${other.toLowerCase()} ${showKnob(second)}`;
  const nearest = (/** @type {number} */ value) => Math.round((value / 10) * (values.length - 1));
  const db = level[nearest(first)][nearest(second)],
    away = distance?.[nearest(first)][nearest(second)] ?? null;
  if (db === null) return `${where}: silent.`;
  const loud = Math.abs(db) < 0.05 ? "as loud" : `${fixed(Math.abs(db))} dB ${db < 0 ? "softer" : "louder"}`;
  return away === null
    ? `${where}: ${loud}.`
    : `${where}: ${fixed(away)} dB of timbre from both at 10, ${loud}.`;
}

/** Rows of the table: whole values of the first knob. @param {Pair} pair */
export const tableRows = ({ rows }) => rows.filter(({ value }) => Number.isInteger(value));
