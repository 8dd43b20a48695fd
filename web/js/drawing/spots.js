/** Free spots: each small part goes where its legs are soldered, a new part where there is room. */

import { partOf, PITCH, STEPS } from "./grid.js";
import { isLead, isLeg, itemAt, placeShapes } from "./place.js";
import { legRoom } from "./shapes.js";

/** @import {Box, Exit, Item, PartFacts, Place, Placed, WiringFacts} from "./types.js" */
/** @import {shapesOf} from "./place.js" */
/** @typedef {ReturnType<typeof shapesOf>} Shapes */

const CLEAR = 18;
/** A leg's end from the part's middle, by quarter turns, for leg a; b lies opposite. */
const LEG_ENDS = [
  [-50, 0],
  [0, -50],
  [50, 0],
  [0, 50],
];
const LEG_END = 50;
/** Steps of the first look for a spot. */
const COARSE = 40;
const FACING = 30;
const BEHIND = 70;
const BENT = 12;
/** A chain that comes back to one control belongs to it. */
const NOT_HOME = 260;
const CONTROL = 10;

/**
 * Place the parts that have no place yet, small parts last.
 *
 * @param {WiringFacts} facts @param {Shapes} shapes @param {Record<string, Place>} places changed in place
 * @param {{x: number, left?: number}} options x: of the pots' column; left: what standing left of it costs
 */
export function placeLegs(facts, shapes, places, { x, left = 110 }) {
  const todo = facts.parts.filter((part) => isLeg(part) && !places[part.name]);
  const joints = jointsByTerminal(facts);
  while (todo.length) {
    const placed = withGangs(shapes, places);
    const wired = todo.map((part) => wiredEnds(facts, joints, placed, part));
    const next = wired.indexOf(Math.max(...wired));
    const [part] = todo.splice(next, 1);
    places[part.name] = bestSpot(facts, shapes, joints, places, part, x, left);
  }
}

/**
 * Places by part; all controls on one shaft have the same.
 *
 * @param {Shapes} shapes @param {Record<string, Place>} places
 */
function withGangs(shapes, places) {
  const found = { ...places };
  for (const [key, { names, shape }] of shapes) {
    if (shape.members && places[key]) for (const name of names) found[name] = places[key];
  }
  return found;
}

/** @param {WiringFacts} facts @returns {Map<string, number>} */
function jointsByTerminal(facts) {
  const found = new Map();
  facts.joints.forEach((joint, k) => joint.forEach((terminal) => found.set(terminal, k)));
  return found;
}

/**
 * How many of a part's legs are soldered to what has a place, ground left out.
 *
 * @param {WiringFacts} facts @param {Map<string, number>} joints @param {Record<string, Place>} places
 * @param {PartFacts} part
 */
function wiredEnds(facts, joints, places, part) {
  return part.lugs.filter((lug) => {
    const joint = joints.get(`${part.name}.${lug}`);
    if (joint === undefined || joint === facts.ground) return false;
    return facts.joints[joint].some((one) => partOf(one) !== part.name && places[partOf(one)]);
  }).length;
}

/** The room of every placed part, its exits included. @param {Placed} placed @returns {Box[]} */
export const takenRooms = (placed) => placed.items.map(roomOf);

/** @param {Item} item @returns {Box} */
function roomOf(item) {
  const exits = item.lugs.flatMap((lug) => lug.exits);
  const boxes = [...item.boxes, item.keep];
  return [
    Math.min(...boxes.map((box) => box[0]), ...exits.map((exit) => exit.x)),
    Math.min(...boxes.map((box) => box[1]), ...exits.map((exit) => exit.y)),
    Math.max(...boxes.map((box) => box[2]), ...exits.map((exit) => exit.x)),
    Math.max(...boxes.map((box) => box[3]), ...exits.map((exit) => exit.y)),
  ];
}

/** A part that is moved looks this far around for room. */
const REACH = 400;

/**
 * Where a moved part may stand: the place wished for, or the nearest one with room; where it is now if all
 * around is taken.
 *
 * @param {Placed} placed @param {Item} item @param {Place} wished @returns {Place}
 */
export function freeNear(placed, item, [x, y, turn]) {
  const taken = placed.items
    .filter((one) => one.key !== item.key && one.shape.type !== "bus")
    .map((one) => roomOf(one));
  const [l, t, r, b] = roomOf(itemAt(item.key, item.part, item.names, item.shape, [0, 0, turn]));
  /** @param {number} dx @param {number} dy */
  const fits = (dx, dy) => isFree([x + dx + l, y + dy + t, x + dx + r, y + dy + b], taken, 0);
  for (let far = 0; far <= REACH; far += PITCH) {
    for (let along = 0; along <= far; along += PITCH) {
      for (const [dx, dy] of around(far, along)) if (fits(dx, dy)) return [x + dx, y + dy, turn];
    }
  }
  return [item.x, item.y, turn];
}

/**
 * Points as far from the middle as `far` along one axis and `along` along the other.
 *
 * @param {number} far @param {number} along @returns {[number, number][]}
 */
const around = (far, along) =>
  [far, -far].flatMap(
    (a) =>
    [along, -along].flatMap((b) => /** @type {[number, number][]} */ ([[a, b], [b, a]])), // prettier-ignore
  );

/** @param {Box} room @param {Box[]} taken @param {number} [clear] space between */
export const isFree = ([left, top, right, bottom], taken, clear = CLEAR) =>
  !taken.some(
    ([a, b, c, d]) => right + clear > a && left - clear < c && bottom + clear > b && top - clear < d,
  );

/**
 * @param {WiringFacts} facts @param {Shapes} shapes @param {Map<string, number>} joints
 * @param {Record<string, Place>} places @param {PartFacts} part @param {number} x @param {number} left
 * @returns {Place}
 */
function bestSpot(facts, shapes, joints, places, part, x, left) {
  const placed = placeShapes(shapes, places);
  const taken = takenRooms(placed);
  const home = homeOf(facts, joints, part);
  const ends = part.lugs.map((lug) => {
    const joint = joints.get(`${part.name}.${lug}`);
    if (joint === undefined) return { ground: false, goals: [] };
    return {
      ground: joint === facts.ground,
      goals: joint === facts.ground ? [] : goalsOf(facts, placed, joint, part, home),
    };
  });
  const tops = taken.map((box) => box[1]);
  const bottoms = taken.map((box) => box[3]);
  const [top, bottom] = [Math.min(60, ...tops) - 60, Math.max(740, ...bottoms) + 60];
  let best = { cost: Infinity, place: /** @type {Place} */ ([x, bottom, 0]) };
  /** @param {number} step */
  const look = (step) => {
    for (let turn = 0; turn < 4; turn++) {
      const [l, t, r, b] = legRoom(turn);
      for (let px = x - 210; px <= x + 340; px += step) {
        const aside = (px < x - 40 ? left : 0) + Math.abs(px - x) * 0.03;
        if (aside + farFrom(ends, px, 0) >= best.cost) continue;
        for (let py = top; py <= bottom; py += step) {
          let cost = aside + Math.max(0, py - 600) * 0.2 + Math.abs(py - 400) * 0.04;
          if (cost + farFrom(ends, py, 1) >= best.cost) continue;
          for (let k = 0; k < ends.length && cost < best.cost; k++) {
            cost += endCost(ends[k], px, py, turn, k);
          }
          if (cost < best.cost && isFree([px + l, py + t, px + r, py + b], taken)) {
            best = { cost, place: [px, py, turn] };
          }
        }
      }
    }
  };
  look(COARSE); // a good spot first spares most of the close look
  look(PITCH);
  return best.place;
}

/**
 * The least that the ends cost along one axis.
 *
 * @param {{ground: boolean, goals: Goal[]}[]} ends @param {number} at @param {0 | 1} axis
 */
function farFrom(ends, at, axis) {
  let sum = 0;
  for (const { goals } of ends) {
    let near = Infinity;
    for (const { exit } of goals) near = Math.min(near, Math.abs((axis ? exit.y : exit.x) - at));
    if (near !== Infinity) sum += Math.max(0, near - LEG_END);
  }
  return sum;
}

/** @typedef {{exit: Exit, more: number}} Goal */

/**
 * @param {{ground: boolean, goals: Goal[]}} end @param {number} px @param {number} py @param {number} turn
 * @param {number} k of the leg
 */
function endCost({ ground, goals }, px, py, turn, k) {
  const [dx, dy] = LEG_ENDS[(turn + 2 * k) % 4];
  if (ground) return dy > 0 ? 0 : dx > 0 ? 12 : 40;
  const [x, y] = [px + dx, py + dy];
  const [ox, oy] = [Math.sign(dx), Math.sign(dy)];
  let near = Infinity;
  for (const { exit, more } of goals) {
    const [sx, sy] = STEPS[exit.dir];
    const facing = (ox && ox === sx) || (oy && oy === sy) ? FACING : 0;
    const behind = (x - exit.x) * sx + (y - exit.y) * sy < 0 ? BEHIND : 0;
    const bent = exit.x !== x && exit.y !== y ? BENT : 0;
    const cost = Math.abs(exit.x - x) + Math.abs(exit.y - y) + facing + behind + bent + more;
    if (cost < near) near = cost;
  }
  return near === Infinity ? 0 : near;
}

/**
 * @param {WiringFacts} facts @param {Placed} placed @param {number} joint @param {PartFacts} part
 * @param {string | undefined} home @returns {Goal[]}
 */
function goalsOf(facts, placed, joint, part, home) {
  return facts.joints[joint].flatMap((terminal) => {
    const lug = placed.lugs.get(terminal);
    if (!lug || partOf(terminal) === part.name) return [];
    const away = home !== undefined && partOf(terminal) !== home ? NOT_HOME : CONTROL;
    const more = isLead(lug.item.part) ? 0 : away;
    return lug.exits.map((exit) => ({ exit, more }));
  });
}

/**
 * The control whose lugs both ends of a chain of small parts come back to: where a bypass belongs.
 *
 * @param {WiringFacts} facts @param {Map<string, number>} joints @param {PartFacts} part
 */
function homeOf(facts, joints, part) {
  const named = new Map(facts.parts.map((one) => [one.name, one]));
  /** @param {string} terminal @param {Set<string>} seen @returns {string[]} */
  const reached = (terminal, seen) => {
    const joint = joints.get(terminal);
    if (joint === undefined) return [];
    return facts.joints[joint].flatMap((other) => {
      const one = named.get(partOf(other));
      if (!one || seen.has(one.name)) return [];
      if (!isLead(one)) return one.kind === "pot" || one.kind === "switch" ? [one.name] : [];
      if (one.kind === "coil" || facts.joints[joint].length !== 2) return [];
      const next = one.lugs.map((lug) => `${one.name}.${lug}`).filter((lug) => lug !== other);
      return next.flatMap((lug) => reached(lug, new Set([...seen, one.name])));
    });
  };
  const ends = part.lugs.map((lug) => `${part.name}.${lug}`);
  if (ends.some((end) => joints.get(end) === facts.ground)) return undefined;
  const [a, b] = ends.map((end) => reached(end, new Set([part.name])));
  return a?.find((name) => b?.includes(name));
}

/**
 * Place other parts that have no place yet: the free spot nearest to where their kind stands.
 *
 * @param {Shapes} shapes @param {Record<string, Place>} places changed in place
 * @param {Record<string, Place>} wished by name
 */
export function placeAsWished(shapes, places, wished) {
  for (const [name, [x, y, turn = 0]] of Object.entries(wished)) {
    if (places[name]) continue;
    const shape = shapes.get(name)?.shape;
    if (!shape) continue;
    const taken = takenRooms(placeShapes(shapes, places));
    const [l, t, r, b] = shape.keep;
    let best = { cost: Infinity, place: /** @type {Place} */ ([x, y, turn]) };
    for (let dx = -400; dx <= 400; dx += 20) {
      for (let dy = -600; dy <= 600; dy += 20) {
        const cost = Math.abs(dx) * 2 + Math.abs(dy);
        if (cost >= best.cost) continue;
        if (!isFree([x + dx + l, y + dy + t, x + dx + r, y + dy + b], taken)) continue;
        best = { cost, place: [x + dx, y + dy, turn] };
      }
    }
    places[name] = best.place;
  }
}
