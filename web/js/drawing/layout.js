/** A calm place for every part: the best of a few layouts, each with its wires. */

import { Columns, upsideCost } from "./columns.js";
import { onGrid } from "./grid.js";
import { isLeg, placeShapes, shapesOf } from "./place.js";
import { routeWires } from "./route.js";
import { placeAsWished, placeLegs, takenRooms } from "./spots.js";
import { BUS, wiresOf } from "./tree.js";

/** @import {Item, Lug, PartFacts, Place, Placed, PlacedLug} from "./types.js" */
/** @import {Point, Routed, Wire, WiringFacts} from "./types.js" */
/** @import {Order} from "./columns.js" */
/** @import {Effort} from "./route.js" */
/** @typedef {ReturnType<typeof shapesOf>} Shapes */
/** @typedef {{places: Record<string, Place>, placed: Placed, wires: Wire[], routed: Routed}} Laid */

/** Orders of each gap that are routed, not just estimated. */
const MOST_ROUTED = 4;
/** Layouts that are routed with more than one order of the wires. */
const MOST_PROBED = 5;
/** Layouts that are routed with all effort in the end. */
const FINALISTS = 2;
/** A layout that costs so much more than the best is no finalist. */
const CLOSE = 400;
const DROPS = [150, 210];
/** What standing left of the pots costs a small part. */
const LEFT_OF_POTS = 110;
/** Gaps of the columns; the widest only if wires find no way. */
const GAPS = [70, 120];
const WIDEST_GAP = 180;

/**
 * Return places for all parts. Those that `facts.places` names stay there.
 *
 * @param {WiringFacts} facts @returns {Record<string, Place>}
 */
export const findPlaces = (facts) => layOut(facts, { folded: true }).places;

/**
 * All that a layout depends on, as a text: values, names of the wiring and knobs are no part of it.
 *
 * @param {WiringFacts} facts @param {boolean} folded
 */
export function layoutKey({ parts, housings, joints, ground, places, runs }, folded) {
  const shown = parts.map(({ name, kind, look, lugs, poles, positions, at_mm, shaft, sounds }) => [
    name,
    kind,
    look,
    lugs,
    poles,
    positions.length,
    at_mm,
    shaft ?? null,
    Math.max(0, ...Object.values(sounds).map((one) => one.length)),
  ]);
  return JSON.stringify([shown, housings, joints, ground, places, runs, folded]);
}

/**
 * Place all parts and lay the wires.
 *
 * @param {WiringFacts} facts @param {{folded: boolean}} options
 * @returns {Laid}
 */
export function layOut(facts, { folded }) {
  const shapes = shapesOf(facts);
  const kept = Object.fromEntries(Object.entries(facts.places).filter(([name]) => shapes.has(name)));
  if (Object.keys(kept).length) return layWires(facts, shapes, completed(facts, shapes, kept), { folded });
  let best = bestLayout(facts, shapes, GAPS);
  if (best.broken) {
    const wide = bestLayout(facts, shapes, [WIDEST_GAP]);
    if (wide.cost < best.cost) best = wide;
  }
  return folded ? best.laid : layWires(facts, shapes, best.laid.places, { folded });
}

/** @param {WiringFacts} facts @param {Shapes} shapes @param {Record<string, Place>} kept */
function completed(facts, shapes, kept) {
  const columns = new Columns(facts, shapes);
  const places = { ...kept };
  const order = { middle: columns.middle, right: columns.right, sides: {} };
  placeAsWished(shapes, places, columns.places(order));
  placeLegs(facts, shapes, places, { x: columns.rightX });
  return places;
}

/** @typedef {{cost: number, broken: number, laid: Laid, columns: Columns, order: Order}} Layout */

/** @param {WiringFacts} facts @param {Shapes} shapes @param {number[]} gaps @returns {Layout} */
function bestLayout(facts, shapes, gaps) {
  /**
   * @param {Columns} columns @param {Order} order @param {number} drop @param {number} left
   * @param {Effort} effort
   * @returns {Layout}
   */
  const tryOne = (columns, order, drop, left, effort) => {
    const places = columns.places(order, drop);
    placeLegs(facts, shapes, places, { x: columns.rightX, left });
    return { columns, order, ...judged(places, order, effort) };
  };
  /** @param {Record<string, Place>} places @param {Order} order @param {Effort} effort */
  const judged = (places, order, effort) => {
    const laid = layWires(facts, shapes, places, { folded: true, effort });
    const cost = costOf(laid.routed) + upsideCost(order);
    return { laid, cost, broken: laid.routed.broken.length };
  };
  const byCost = (/** @type {Layout} */ p, /** @type {Layout} */ q) => p.cost - q.cost;
  const tries = gaps
    .flatMap((gap) => {
      const columns = new Columns(facts, shapes, gap);
      const orders = columns.orders().slice(0, MOST_ROUTED);
      return orders.map((order) => tryOne(columns, order, 100, LEFT_OF_POTS, "probe"));
    })
    .sort(byCost)
    .slice(0, MOST_PROBED)
    .map((one) => ({ ...one, ...judged(one.laid.places, one.order, "quick") }));
  const { columns, order } = tries.sort(byCost)[0];
  for (const drop of DROPS) tries.push(tryOne(columns, order, drop, LEFT_OF_POTS, "quick"));
  if (facts.parts.some(isLeg)) tries.push(tryOne(columns, order, 100, 0, "quick"));
  const limit = tries.sort(byCost)[0].cost + CLOSE;
  const finalists = tries.slice(0, FINALISTS).filter(({ cost }) => cost < limit);
  const full = finalists.map((one) => ({ ...one, ...judged(one.laid.places, one.order, "full") }));
  return full.sort(byCost)[0];
}

/** Crossings, then length and bends. @param {Routed} routed */
function costOf(routed) {
  let cost = routed.crossings.length * 160 + routed.shared * 1000 + routed.broken.length * 40_000;
  for (const path of routed.paths.values()) {
    cost += path.length * 14;
    for (let k = 1; k < path.length; k++) {
      cost += Math.abs(path[k][0] - path[k - 1][0]) + Math.abs(path[k][1] - path[k - 1][1]);
    }
  }
  return cost;
}

/**
 * Lay the wires of placed parts.
 *
 * @param {WiringFacts} facts @param {Shapes} shapes @param {Record<string, Place>} places
 * @param {{folded: boolean, effort?: Effort, kept?: Map<string, Point[]> | null}} options
 * @returns {Laid}
 */
export function layWires(facts, shapes, places, { folded, effort = "full", kept = null }) {
  const placed = placeShapes(shapes, places);
  if (!folded && facts.ground >= 0) addBus(placed);
  const wires = wiresOf(facts, placed, { folded });
  return { places, placed, wires, routed: routeWires(facts, placed, wires, { effort, kept }) };
}

/** Add the bare wire below all parts that collects the grounds. @param {Placed} placed */
function addBus(placed) {
  const rooms = takenRooms(placed);
  const left = onGrid(Math.min(...rooms.map((box) => box[0]), 300));
  const right = onGrid(Math.max(...rooms.map((box) => box[2])));
  const y = onGrid(Math.max(...rooms.map((box) => box[3])) + 70);
  const exits = [];
  for (let x = left; x <= right; x += 20) exits.push({ x, y, dir: /** @type {const} */ ("u") });
  /** @type {Lug} */
  const lug = { terminal: BUS, name: "", x: left, y, exits, label: "none", dx: 0, dy: 0 };
  /** @type {PartFacts} */
  const part = {
    name: "bus",
    kind: "bus",
    look: "bus",
    value: "",
    lugs: [],
    poles: [],
    positions: [],
    contacts: {},
    at_mm: null,
    knob: null,
    sounds: {},
    networks: {},
  };
  /** @type {import("./types.js").Box} */
  const body = [left - 10, y - 4, right + 10, y + 14];
  /** @type {Item} */
  const item = {
    key: BUS,
    names: [],
    part,
    shape: { type: "bus", boxes: [], lugs: [], words: [], keep: [0, 0, 0, 0] },
    x: left,
    y,
    turn: 0,
    mirrored: false,
    upside: false,
    boxes: [body],
    words: [],
    keep: body,
    lugs: [],
  };
  /** @type {PlacedLug} */
  const placedLug = { ...lug, item };
  item.lugs.push(placedLug);
  placed.items.push(item);
  placed.lugs.set(BUS, placedLug);
}
