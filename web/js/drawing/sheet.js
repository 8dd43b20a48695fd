/** The drawing of a build sheet: every wire from lug to lug, in black, each with the number of its step. */

import { findPlaces, layWires } from "./layout.js";
import { looksOf } from "./looks.js";
import { node, svgText } from "./nodes.js";
import { boundsOf, paint, pictureOf } from "./paint.js";
import { inWords } from "./paint_wires.js";
import { placeShapes, shapesOf } from "./place.js";
import { groundRuns, wiresOf } from "./tree.js";

/** @import {Place, WiringFacts} from "./types.js" */

const MARGIN = 12;
const KEY_WIDTH = 56;

/**
 * The wires to solder, without a picture. Ground runs from lug to lug.
 *
 * @param {WiringFacts} facts
 * @returns {{places: Record<string, Place>, wires: {from: string, to: string, run: string, joint: number}[]}}
 */
export function sheetWires(facts) {
  const places = findPlaces(facts);
  const placed = placeShapes(shapesOf(facts), places);
  const joined = wiresOf(facts, placed, { folded: true }).filter((wire) => wire.b !== null);
  const wires = [...joined, ...groundRuns(facts, placed)];
  return {
    places,
    wires: wires.map(({ a, b, run, joint }) => ({ from: a, to: String(b), run, joint })),
  };
}

/**
 * The picture in black. A grounded lug has a symbol and the numbers of its ground wires.
 *
 * @param {{facts: WiringFacts, places: Record<string, Place>,
 *   steps: {from: string, to: string, step: number}[], style: string, title: string}} order
 * @returns {{svg: string, broken: string[], key: {joint: number, label: string, svg: string}[]}}
 */
export function drawSheet({ facts, places, steps, style, title }) {
  const laid = layWires(facts, shapesOf(facts), places, { folded: true });
  const numbers = new Map(steps.map(({ from, to, step }) => [`${from}~${to}`, String(step)]));
  for (const wire of laid.wires) {
    if (wire.b !== null) continue;
    const mine = steps.filter(({ from, to }) => from === wire.a || to === wire.a);
    const ground = mine.filter(({ from, to }) => areGround(facts, from, to)).map(({ step }) => step);
    numbers.set(wire.key, ground.join(" "));
  }
  const picture = pictureOf(facts, laid, { mode: "print", state: null, numbers });
  const [left, top, right, bottom] = boundsOf(picture);
  const box = [left - MARGIN, top - MARGIN, right - left + 2 * MARGIN, bottom - top + 2 * MARGIN];
  const root = document("drawing-sheet", box, style, node("title", {}, title), paint(picture));
  const broken = laid.routed.broken.map((wire) => `${inWords(wire.a)} to ${inWords(String(wire.b))}`);
  const looks = looksOf(facts);
  const joints = [...new Set(steps.map(({ from }) => jointOf(facts, from)))];
  const last = (/** @type {number} */ joint) => (joint === facts.ground ? 1 : 0);
  const key = joints
    .sort((p, q) => last(p) - last(q) || p - q)
    .map((joint) => {
      const { ground, label, tracer } = looks[joint];
      const d = `M4 8H${KEY_WIDTH - 4}`;
      const line = node(
        "g",
        { class: "drawing mode-print" },
        node(
          "g",
          { class: `wire${ground ? " earth" : ""}` },
          node("path", { d, class: "outer", "stroke-dasharray": tracer.outer || null }),
          tracer.inner
            ? node("path", {
                d,
                class: "inner",
                "stroke-dasharray": tracer.inner === "0" ? null : tracer.inner,
              })
            : null,
        ),
      );
      return { joint, label, svg: document("", [0, 0, KEY_WIDTH, 16], style, line) };
    });
  return { svg: root, broken, key };
}

/** @param {WiringFacts} facts @param {string} terminal */
const jointOf = (facts, terminal) => facts.joints.findIndex((joint) => joint.includes(terminal));

/** @param {WiringFacts} facts @param {...string} terminals */
const areGround = (facts, ...terminals) => terminals.every((one) => jointOf(facts, one) === facts.ground);

/**
 * @param {string} classes @param {number[]} box @param {string} style
 * @param {...import("./types.js").Node} nodes
 */
function document(classes, [x, y, width, height], style, ...nodes) {
  const frame = {
    xmlns: "http://www.w3.org/2000/svg",
    viewBox: `${x} ${y} ${width} ${height}`,
    width,
    height,
  };
  return svgText(node("svg", { ...frame, class: classes || null }, node("style", {}, style), ...nodes));
}
