/**
 * The order of a drawing's columns: pickups left by their place along the strings, switches in the middle,
 *   pots
 * right, jacks far right. Orders and sides are judged by what their wires would be.
 */

import { onGrid, STEPS } from "./grid.js";
import { placeShapes, turnsOf } from "./place.js";
import { wiresOf } from "./tree.js";

/** @import {Direction, Exit, Place, PlacedLug, WiringFacts} from "./types.js" */
/** @import {shapesOf} from "./place.js" */
/** @typedef {ReturnType<typeof shapesOf>} Shapes */
/** @typedef {{middle: string[], right: string[], sides: Record<string, number>}} Order */

export const STRIP_X = 150;
export const BRIDGE_Y = 660;
/** Units of the drawing for a millimetre along the strings, at most. */
const SCALE = 3.3;
const LONGEST = 560;
const CROSSED = 160;
/** A wire that must first leave away from where it goes. */
const AWAY = 130;
/** A rotary with its common lugs below reads less well: only where it saves much. */
const UPSIDE = 700;
const MOST_STEPS = 12;

/** Kinds that stand in the middle. */
const MIDDLE = new Set(["switch", "sketch", "group", "transformer"]);

/** Units for a millimetre along the strings. @param {WiringFacts} facts */
export function scaleOf(facts) {
  const farthest = Math.max(60, ...facts.parts.map((part) => part.at_mm ?? 0));
  return Math.min(SCALE, LONGEST / farthest);
}

/**
 * The pickups' places, pushed apart where housings would touch.
 *
 * @param {WiringFacts} facts @param {Shapes} shapes
 */
export function pickupPlaces(facts, shapes) {
  const scale = scaleOf(facts);
  /** @type {Record<string, Place>} */
  const places = {};
  let floor = -Infinity;
  const named = new Map(facts.parts.map((part) => [part.name, part]));
  facts.housings.forEach((names, k) => {
    const known = names.flatMap((name) => named.get(name)?.at_mm ?? []);
    const away = 60 + 50 * (facts.housings.length - k);
    const at = known.length ? known.reduce((sum, one) => sum + one, 0) / known.length : away;
    const half = Number(shapes.get(names[0])?.shape.half) + 6;
    const y = onGrid(Math.max(BRIDGE_Y - at * scale, floor + half + 14));
    places[names[0]] = [STRIP_X, y];
    floor = y + half;
  });
  return places;
}

export class Columns {
  /**
   * @param {WiringFacts} facts @param {Shapes} shapes @param {number} [gap] between the parts of a column
   */
  constructor(facts, shapes, gap = 70) {
    this.facts = facts;
    this.shapes = shapes;
    this.gap = gap;
    this.pickups = pickupPlaces(facts, shapes);
    const others = facts.parts.filter((part) => shapes.has(part.name) && part.kind !== "coil");
    this.middle = others.filter((part) => MIDDLE.has(part.kind)).map((part) => part.name);
    this.right = others
      .filter((part) => part.kind === "pot" || part.kind === "metal")
      .map((part) => part.name);
    this.jacks = others.filter((part) => part.kind === "jack").map((part) => part.name);
    const wide = Math.max(0, ...this.middle.map((name) => this.room(name)[2]));
    this.middleX = onGrid(420 + (this.middle.length ? Math.max(100, wide) : 0));
    this.rightX = onGrid(this.middleX + (this.middle.length ? 210 + Math.max(100, wide) : 200));
    this.jackX = this.rightX + (this.right.length ? 280 : 160);
    const ys = Object.values(this.pickups).map(([, y]) => y);
    this.centre = ys.length ? (Math.min(...ys) + Math.max(...ys)) / 2 : 360;
    /** @type {Map<string, {order: Order, cost: number}>} */
    this.judged = new Map();
  }

  /** @param {string} name */
  room(name) {
    return this.shapes.get(name)?.shape.keep ?? [0, 0, 0, 0];
  }

  /** Orders and sides, the best first. @returns {Order[]} */
  orders() {
    const given = { middle: this.middle, right: this.right, sides: {} };
    this.improve(given);
    this.improve({ ...given, middle: [...this.middle].reverse() });
    this.improve({ ...given, right: [...this.right].reverse() });
    return [...this.judged.values()].sort((a, b) => a.cost - b.cost).map(({ order }) => order);
  }

  /** Take the best of all neighbours until none is better. @param {Order} order */
  improve(order) {
    let [at, cost] = [order, this.judge(order)];
    for (let step = 0; step < MOST_STEPS; step++) {
      const next = this.neighbours(at).map((one) => ({ one, cost: this.judge(one) }));
      const best = next.reduce((p, q) => (q.cost < p.cost ? q : p), { one: at, cost });
      if (best.cost >= cost) return;
      [at, cost] = [best.one, best.cost];
    }
  }

  /** @param {Order} order @returns {Order[]} */
  neighbours(order) {
    const found = [];
    for (const middle of swaps(order.middle)) found.push({ ...order, middle });
    for (const right of swaps(order.right)) found.push({ ...order, right });
    for (const name of [...order.middle, ...order.right]) {
      const one = this.shapes.get(name);
      if (!one || (one.shape.type !== "switch" && !one.shape.members)) continue;
      const now = order.sides[name] ?? 0;
      for (const side of turnsOf(one.part, one.shape)) {
        if (side === now) continue;
        const { [name]: _, ...others } = order.sides;
        found.push({ ...order, sides: side ? { ...others, [name]: side } : others });
      }
    }
    return found;
  }

  /** @param {Order} order @param {number} [drop] of the jack below its pot */
  places(order, drop = 100) {
    /** @type {Record<string, Place>} */
    const places = { ...this.pickups };
    this.column(places, order.middle, this.middleX, this.gap, this.centre, order.sides);
    this.column(places, order.right, this.rightX, this.gap, this.centre - 10, order.sides);
    const { joints } = this.facts;
    this.jacks.forEach((jack, k) => {
      const tip = joints.find((joint) => joint.includes(`${jack}.tip`)) ?? [];
      const beside =
        order.right.find((name) => tip.some((one) => one.startsWith(`${name}.`))) ?? order.right[0];
      const y = (places[beside]?.[1] ?? this.centre - drop) + drop;
      places[jack] = [this.jackX, onGrid(y) + 160 * k];
    });
    return places;
  }

  /**
   * @param {Record<string, Place>} places @param {string[]} names @param {number} x @param {number} gap
   * @param {number} centre @param {Record<string, number>} sides
   */
  column(places, names, x, gap, centre, sides) {
    const rooms = names.map((name) => this.room(name));
    const total = rooms.reduce((sum, room) => sum + room[3] - room[1], 0) + gap * (names.length - 1);
    let y = centre - total / 2;
    names.forEach((name, k) => {
      places[name] = [x, onGrid(y - rooms[k][1]), sides[name] ?? 0];
      y += rooms[k][3] - rooms[k][1] + gap;
    });
  }

  /** @param {Order} order */
  judge(order) {
    const key = JSON.stringify(order);
    const known = this.judged.get(key);
    if (known) return known.cost;
    const cost = this.estimate(this.places(order)) + upsideCost(order);
    this.judged.set(key, { order, cost });
    return cost;
  }

  /** Length, and crossings of straight lines. @param {Record<string, Place>} places */
  estimate(places) {
    const placed = placeShapes(this.shapes, places);
    const runs = wiresOf(this.facts, placed, { folded: true }).flatMap(({ a, b }) => {
      const [p, q] = [placed.lugs.get(a), b === null ? undefined : placed.lugs.get(b)];
      return p && q ? [[exitTowards(p, q), exitTowards(q, p)]] : [];
    });
    let cost = 0;
    runs.forEach(([a, b], k) => {
      cost += Math.abs(a.x - b.x) + Math.abs(a.y - b.y) + away(a, b) + away(b, a);
      for (let j = 0; j < k; j++) if (isCrossed(a, b, runs[j][0], runs[j][1])) cost += CROSSED;
    });
    return cost;
  }
}

/** @param {Order} order */
export const upsideCost = (order) => UPSIDE * Object.values(order.sides).filter((side) => side > 1).length;

/** Every list with two of its members exchanged. @template T @param {T[]} list @returns {T[][]} */
function swaps(list) {
  const found = [];
  for (let i = 0; i < list.length; i++) {
    for (let j = 0; j < i; j++) {
      const next = [...list];
      [next[i], next[j]] = [list[j], list[i]];
      found.push(next);
    }
  }
  return found;
}

/** @param {PlacedLug} lug @param {PlacedLug} other @returns {Exit} */
function exitTowards(lug, other) {
  const to = other.exits[0];
  /** @param {Exit} exit */
  const cost = (exit) => away(exit, to) + Math.abs(exit.x - to.x);
  return lug.exits.reduce((p, q) => (cost(q) < cost(p) ? q : p));
}

/** @param {Exit} exit @param {{x: number, y: number}} to */
function away(exit, to) {
  const [dx, dy] = STEPS[exit.dir];
  return (to.x - exit.x) * dx + (to.y - exit.y) * dy < 0 ? AWAY : 0;
}

/** @typedef {{x: number, y: number}} Spot */
/** @param {Spot} a @param {Spot} b @param {Spot} p */
const side = (a, b, p) => (b.x - a.x) * (p.y - a.y) - (b.y - a.y) * (p.x - a.x);
/** @param {Spot} a @param {Spot} b @param {Spot} c @param {Spot} d */
const isCrossed = (a, b, c, d) => side(a, b, c) * side(a, b, d) < 0 && side(c, d, a) * side(c, d, b) < 0;
