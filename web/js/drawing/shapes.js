/** What each part looks like: its body, and where each lug is and which way a wire leaves it. */

import { lug, switchShape } from "./switch_shapes.js";

/** @import {Box, Direction, Lug, PartFacts, Shape} from "./types.js" */

/** Width of a letter of a name, on the safe side. */
const LETTER = 8.2;

/**
 * Return the shape of a part that is no coil, in its own coordinates before turning.
 *
 * @param {PartFacts} part @returns {Shape}
 */
export function shapeOf(part) {
  switch (part.kind) {
    case "switch":
      return switchShape(part);
    case "pot":
      return potShape(part);
    case "jack":
      return jackShape(part);
    case "capacitor":
    case "resistor":
    case "inductor":
      return legShape(part);
    default:
      return blockShape(part);
  }
}

/**
 * Seen from behind: lugs 3, 2, 1 from the left, further ones above.
 *
 * @param {PartFacts} part @returns {Shape}
 */
function potShape(part) {
  /** @type {Record<string, [number, number]>} */
  const below = { 3: [-30, 48], 2: [0, 52], 1: [30, 48] }; // three wires get away from each
  const lugs = part.lugs.map((name, k) => {
    const at = below[name];
    if (at) return lug(part, name, at[0], at[1], [[at[0], 60, "d"]], { label: "pot" });
    const y = -20 + 20 * Math.max(0, k - 3);
    return lug(part, name, 44, y, [[60, y, "r"]], { label: "side", dx: -14 });
  });
  const casing = lug(part, "casing", 0, -30, [[0, -60, "u"], [60, -30, "r"], [-60, -30, "l"]]); // prettier-ignore
  return {
    type: "pot",
    boxes: [[-46, -46, 46, 52]],
    lugs,
    casing,
    words: [[-10, -70, 10, -46]],
    keep: [-46, -70, 46, 60],
  };
}

/** @param {PartFacts} part @returns {Shape} */
function jackShape(part) {
  const top = -20 * Math.max(1, part.lugs.length - 1);
  const lugs = part.lugs.map((name, k) => {
    const y = top + 40 * k;
    return lug(part, name, -34, y, [[-50, y, "l"]]);
  });
  const half = Math.max(40, 20 - top);
  const wide = part.name.length * LETTER;
  return {
    type: "jack",
    boxes: [[-44, -half, 44, half]],
    lugs,
    words: [[-wide / 2, half, wide / 2, half + 20]],
    keep: [-50, -half, 80, half + 22],
  };
}

/** A small part between two legs. @param {PartFacts} part @returns {Shape} */
function legShape(part) {
  return {
    type: part.kind,
    boxes: [[-44, -16, 44, 16]],
    lugs: [lug(part, "a", -40, 0, [[-50, 0, "l"]]), lug(part, "b", 40, 0, [[50, 0, "r"]])],
    words: [],
    keep: legRoom(0),
  };
}

/**
 * Room of a small part with its legs and its words, by quarter turns.
 *
 * @param {number} turn @returns {Box}
 */
export const legRoom = (turn) => (turn % 2 ? [-20, -50, 104, 50] : [-52, -26, 52, 36]);

/**
 * A box with its lugs at the sides, named: a transformer, a sketch, a group, a piece of metal.
 *
 * @param {PartFacts} part @returns {Shape}
 */
function blockShape(part) {
  // the signal goes to the right
  const order = part.lugs[0] === "hot" ? [...part.lugs].reverse() : part.lugs;
  const left = order.slice(0, Math.ceil(order.length / 2));
  const longest = Math.max(0, ...Object.values(part.sounds).map((one) => one.length));
  const half = part.kind === "sketch" ? Math.min(180, Math.max(80, 10 * Math.ceil(longest * 0.45))) : 60;
  const high = 20 * Math.max(1, left.length) + (part.kind === "sketch" ? 30 : 16);
  const lugs = order.map((name, k) => {
    const onLeft = k < left.length;
    const row = onLeft ? k : k - left.length;
    const y = -20 * (left.length - 1) + 40 * row;
    const sign = onLeft ? -1 : 1;
    const dir = /** @type {Direction} */ (onLeft ? "l" : "r");
    return lug(part, name, sign * half, y, [[sign * (half + 20), y, dir]], {
      label: "side",
      dx: -14 * sign,
    });
  });
  /** @type {Box} */
  const body = [-half - 10, -high, half + 10, high];
  return { type: part.kind, boxes: [body], lugs, words: [], keep: [body[0], body[1] - 4, body[2], body[3]] };
}

/**
 * Return a pickup: one housing, one coil or two, its leads to the right.
 *
 * @param {PartFacts[]} coils from the neck's side to the bridge's
 * @returns {Shape}
 */
export function pickupShape(coils) {
  const pair = coils.length > 1;
  const pitches = coils.map((coil) => (coil.lugs.length > 2 ? 20 : 30));
  const heights = coils.map((coil, k) => (coil.lugs.length - 1) * pitches[k]);
  const gap = 20;
  const total = heights.reduce((sum, high) => sum + high, 0) + gap * (coils.length - 1);
  const half = Math.max(pair ? 50 : 28, total / 2 + 10);
  let y = pair ? -total / 2 : -10;
  /** @type {Lug[]} */
  const lugs = [];
  const drawn = coils.map((part, k) => {
    part.lugs.forEach((name, i) => {
      const at = y + i * pitches[k];
      lugs.push(lug(part, name, 116, at, [[130, at, "r"]]));
    });
    const cy = pair ? y + heights[k] / 2 : 0;
    y += heights[k] + gap;
    return { part, cy };
  });
  /** @type {Box} */
  const body = [-96, -half - 6, 120, half + 6];
  return { type: "pickup", boxes: [body], lugs, words: [], keep: body, half, coils: drawn };
}
