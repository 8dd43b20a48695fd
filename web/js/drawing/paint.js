/** The whole picture of a wiring as elements. */

import { lugLevels, wireLevels } from "./carry.js";
import { looksOf } from "./looks.js";
import { node } from "./nodes.js";
import { paintPart, paintStrings } from "./paint_parts.js";
import { paintBadges, paintLug, paintOrder, paintWire } from "./paint_wires.js";

/** @import {Box, Node, Placed, Routed, State, Wire, WiringFacts} from "./types.js" */
/** @import {Laid} from "./layout.js" */
/** @import {Look} from "./looks.js" */

/** @typedef {"sound" | "joints" | "print"} Mode */
/**
 * @typedef {object} Picture
 * @property {WiringFacts} facts
 * @property {Placed} placed
 * @property {Wire[]} wires
 * @property {Routed} routed
 * @property {Look[]} looks
 * @property {Map<string, number>} joints  by terminal
 * @property {Mode} mode
 * @property {State | null} state  null draws no contacts
 * @property {Record<string, string> | null} stands  positions to show; null for none
 * @property {Record<string, number> | null} knobs
 * @property {Map<string, number>} levels  of the wires
 * @property {Map<string, number>} lugLevels  by terminal
 * @property {Map<string, string> | null} numbers  of the wires, instead of their joints'
 */

/**
 * Put together what the painters need.
 *
 * @param {WiringFacts} facts @param {Laid} laid
 * @param {{mode: Mode, state: State | null, knobs?: Record<string, number> | null, numbers?: Map<string,
 *   string>}} show
 * @returns {Picture}
 */
export function pictureOf(facts, { placed, wires, routed }, { mode, state, knobs = null, numbers }) {
  const joints = new Map(
    facts.joints.flatMap((joint, k) => joint.map((terminal) => /** @type {const} */ ([terminal, k]))),
  );
  const levels = wireLevels(wires, state?.terminals ?? {});
  return {
    facts,
    placed,
    wires,
    routed,
    looks: looksOf(facts),
    joints,
    mode,
    state,
    stands: state?.stands ?? null,
    knobs,
    levels,
    lugLevels: lugLevels(wires, levels, state?.terminals ?? {}),
    numbers: numbers ?? null,
  };
}

/** @param {Picture} picture @returns {Node} */
export function paint(picture) {
  const lugs = [...picture.placed.lugs.values()].filter((lug) => lug.name && lug.name !== "casing");
  const casings = [...picture.placed.lugs.values()].filter((lug) => lug.name === "casing");
  const used = new Set(picture.wires.flatMap((wire) => [wire.a, wire.b]));
  return node(
    "g",
    { class: `drawing mode-${picture.mode}` },
    paintStrings(picture.facts, picture.placed),
    node(
      "g",
      { class: "parts" },
      picture.placed.items.map((item) => paintPart(picture, item)),
    ),
    node(
      "g",
      { class: "wires" },
      paintOrder(picture).map((wire) => paintWire(picture, wire)),
    ),
    node(
      "g",
      { class: "lugs" },
      lugs.map((lug) => paintLug(picture, lug)),
    ),
    casings
      .filter((lug) => used.has(lug.terminal))
      .map((lug) => node("ellipse", { cx: lug.x, cy: lug.y, rx: 11, ry: 8, class: "blob" })),
    node("g", { class: "badges", "aria-hidden": "true" }, paintBadges(picture)),
  );
}

/** What the picture takes up. @param {Picture} picture @returns {Box} */
export function boundsOf(picture) {
  const { items } = picture.placed;
  if (!items.length) return [0, 0, 900, 560];
  const boxes = items.flatMap((item) => [...item.boxes, item.keep]);
  const points = [...picture.routed.paths.values()].flat();
  const pickups = items.some((item) => item.shape.type === "pickup" && item.x === 150);
  const xs = [...boxes.flatMap((box) => [box[0] - 24, box[2] + 24]), ...points.map((point) => point[0])];
  const ys = [...boxes.flatMap((box) => [box[1] - 24, box[3] + 24]), ...points.map((point) => point[1])];
  const tops = items.filter((item) => item.shape.type === "pickup").map((item) => item.boxes[0][1] - 80);
  return [
    Math.min(...xs, ...(pickups ? [-10] : [])),
    Math.min(...ys, ...tops),
    Math.max(...xs),
    Math.max(...ys, ...(tops.length ? [690] : [])),
  ];
}
