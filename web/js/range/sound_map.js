/** The map of sounds without its drawing: distances, places, and steps from dot to dot. */

import { soundInWords } from "./words.js";
import { fixed, showDb, showHz, showOhm } from "../shared/units.js";

/** @import {Point, Sound, SoundMap} from "./words.js" */

/**
 * Timbre distance, dB: the root mean square of the bands' differences.
 * @param {SoundMap} map @param {number} a @param {number} b indexes of `points`
 */
export function distance({ timbre }, a, b) {
  const one = timbre[a],
    other = timbre[b];
  let sum = 0;
  for (let band = 0; band < one.length; band += 1) sum += (one[band] - other[band]) ** 2;
  return Math.sqrt(sum / one.length) / 100;
}

/**
 * The difference of the band that differs most, dB.
 * @param {SoundMap} map @param {number} a @param {number} b indexes of `points`
 */
export function largestDifference({ timbre }, a, b) {
  return Math.max(...timbre[a].map((level, band) => Math.abs(level - timbre[b][band]))) / 100;
}

/**
 * The smallest distance between two of a set; null for fewer than two.
 * @param {SoundMap} map @param {number[]} members
 */
export function smallest(map, members) {
  let least = Infinity;
  members.forEach((a, k) => {
    for (const b of members.slice(k + 1)) least = Math.min(least, distance(map, a, b));
  });
  return least === Infinity ? null : least;
}

/** The nearest other member of a set. @param {SoundMap} map @param {number} from @param {number[]} members
 * @returns {{member: number, away: number} | null} */
export function nearestOf(map, from, members) {
  let found = null;
  for (const member of members) {
    if (member === from) continue;
    const away = distance(map, from, member);
    if (!found || away < found.away) found = { member, away };
  }
  return found;
}

/**
 * Sounds that could replace a member, nearest first.
 * @param {SoundMap} map @param {number[]} members @param {number} place in `members` @param {number} most
 * @returns {{sound: number, away: number, smallest: number | null}[]}
 */
export function swaps(map, members, place, most) {
  const others = members.filter((_, k) => k !== place);
  return map.points
    .map((point, sound) => ({ point, sound, away: distance(map, members[place], sound) }))
    .filter(({ point, sound }) => point.allowed && !members.includes(sound))
    .sort((a, b) => a.away - b.away)
    .slice(0, most)
    .map(({ sound, away }) => ({ sound, away, smallest: smallest(map, [...others, sound]) }));
}

/**
 * Indexes of expressions, without those that are not on the map.
 * @param {SoundMap} map @param {string[]} expressions
 */
export function placesOf({ points }, expressions) {
  const at = new Map(points.map(({ expression }, k) => [expression, k]));
  return expressions.flatMap((expression) => at.get(expression) ?? []);
}

/** Weight of a step aside against a step along, within the cone of an arrow key. */
const ASIDE = 2.5;
/** @type {Record<string, [number, number]>} */
const WAYS = { ArrowRight: [1, 0], ArrowLeft: [-1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };

/** The nearest dot in an arrow key's direction, or the same dot if that direction has none. y rises upwards.
 * @param {{x: number, y: number}[]} points @param {number} from @param {string} key */
export function inDirection(points, from, key) {
  const way = WAYS[key];
  if (!way) return from;
  let best = from,
    least = Infinity;
  points.forEach(({ x, y }, k) => {
    const dx = x - points[from].x,
      dy = y - points[from].y;
    const along = dx * way[0] + dy * way[1],
      aside = Math.abs(dx * way[1]) + Math.abs(dy * way[0]);
    if (k === from || along <= 1e-9 || aside > 2 * along) return;
    const cost = along + ASIDE * aside;
    if (cost < least) {
      least = cost;
      best = k;
    }
  });
  return best;
}

/**
 * Places on the picture, with one scale for both axes.
 * @param {{x: number, y: number}[]} points @param {number} wide @param {number} most height at most
 * @param {number} pad
 * @returns {{tall: number, perDb: number, places: {x: number, y: number}[]}}
 */
export function layOut(points, wide, most, pad) {
  const xs = points.map(({ x }) => x),
    ys = points.map(({ y }) => y);
  const [left, right] = [Math.min(...xs), Math.max(...xs)],
    [low, high] = [Math.min(...ys), Math.max(...ys)];
  const perDb = Math.min(
    (wide - 2 * pad) / Math.max(right - left, 1e-6),
    (most - 2 * pad) / Math.max(high - low, 1e-6),
    200,
  );
  const tall = Math.max(120, (high - low) * perDb + 2 * pad);
  const aside = (wide - (right - left) * perDb) / 2;
  return {
    tall,
    perDb,
    places: points.map(({ x, y }) => ({ x: aside + (x - left) * perDb, y: tall - pad - (y - low) * perDb })),
  };
}

/**
 * The dot nearest to a place, if it is within reach.
 * @param {{x: number, y: number}[]} places @param {number} x @param {number} y @param {number} reach
 */
export function dotAt(places, x, y, reach) {
  let best = -1,
    least = reach ** 2;
  places.forEach((place, k) => {
    const far = (place.x - x) ** 2 + (place.y - y) ** 2;
    if (far <= least) {
      least = far;
      best = k;
    }
  });
  return best;
}

/**
 * The shape shows the phase, the filling the hum.
 * @param {Pick<Sound, "hum_cancelling" | "in_phase">} sound
 */
export const shapeOf = ({ hum_cancelling: cancels, in_phase: inPhase }) =>
  `${inPhase ? "disc" : "diamond"} ${cancels ? "full" : "hollow"}`;

/** Path of a dot about the origin. @param {boolean} diamond @param {number} r */
export const dotPath = (diamond, r) =>
  diamond
    ? `M0 ${-1.3 * r}L${1.3 * r} 0L0 ${1.3 * r}L${-1.3 * r} 0Z`
    : `M${-r} 0a${r} ${r} 0 1 0 ${2 * r} 0a${r} ${r} 0 1 0 ${-2 * r} 0Z`;

/** @param {Sound} sound */
export const humOf = ({ hum_cancelling: cancels, hum_db: hum }) =>
  cancels ? `hum cancels, ${hum < -60 ? "below −60 dB" : `${fixed(hum, 0)} dB`} left` : "hums";

/** A sound's numbers with their names. @param {Sound} sound @returns {[string, string][]} */
export const numbersOf = (sound) => [
  ["level", showDb(sound.level_below_loudest_db)],
  ["hum", humOf(sound)],
  ["resonance", sound.resonances.length === 0 ? "none" : showHz(sound.resonances[0].frequency_hz)],
  ["brightness", showHz(sound.brightness_hz)],
  ["meter", showOhm(sound.meter_ohm)],
];

/**
 * The label of a dot for a screen reader.
 * @param {Point} point @param {number} number its number in the set, or 0
 * @param {number | null} nearest dB to the nearest chosen
 * @param {boolean} [pinned]
 */
export function dotLabel(point, number, nearest, pinned = false) {
  return [
    number ? `Position ${number}` : "",
    pinned ? "pinned" : "",
    soundInWords(point.connection[0]),
    point.in_phase ? "" : "out of phase",
    ...point.words,
    point.hum_cancelling ? "hum cancels" : "hums",
    `level ${showDb(point.level_below_loudest_db)}`,
    nearest === null ? "" : `${fixed(nearest)} dB from the nearest chosen`,
    point.allowed ? "" : "excluded by the rules",
  ]
    .filter(Boolean)
    .join(", ");
}
