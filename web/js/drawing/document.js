/** A whole drawing in one call, for the server: from the facts to the text of an SVG document. */

import { layOut } from "./layout.js";
import { node, svgText } from "./nodes.js";
import { boundsOf, paint, pictureOf } from "./paint.js";
import { inWords } from "./paint_wires.js";
import { drawSketch } from "./network.js";
import { simplified } from "./simple.js";

/** @import {Found, State, WiringFacts} from "./types.js" */
/** @import {Mode} from "./paint.js" */
/** @import {Detail} from "./simple.js" */

const MARGIN = 12;

/**
 * Draw a wiring.
 *
 * @param {{facts: WiringFacts, state: State | null, knobs: Record<string, number> | null, mode: Mode,
 *   folded: boolean,
 *   style: string, title: string, detail?: Detail}} order
 * @returns {{svg: string, wires: {from: string, to: string | null, run: string, joint: number}[],
 *   broken: string[], crossings: number, laid: Found}}  laid: what spares a page the layout
 */
export function drawDocument({ facts, state, knobs, mode, folded, style, title, detail = "full" }) {
  const laid = layOut(facts, { folded });
  const picture = pictureOf(facts, laid, { mode, state, knobs });
  const [left, top, right, lowest] = boundsOf(picture);
  const sketches = sketchesOf(
    detail === "small" ? [] : facts.parts,
    facts,
    [left, lowest + 2 * MARGIN],
    right - left,
  );
  const bottom = lowest + (sketches.height ? sketches.height + 3 * MARGIN : 0);
  const [width, height] = [right - left + 2 * MARGIN, bottom - top + 2 * MARGIN];
  const [x, y] = [left - MARGIN, top - MARGIN];
  const root = node(
    "svg",
    {
      xmlns: "http://www.w3.org/2000/svg",
      viewBox: `${x} ${y} ${width} ${height}`,
      width,
      height,
      class: "drawing-sheet",
      role: "img",
    },
    node("title", {}, title),
    node("style", {}, style),
    node("rect", { x, y, width, height, class: "sheet" }),
    simplified(paint(picture), detail),
    sketches.node,
  );
  const broken = laid.routed.broken.map((wire) => `${inWords(wire.a)} to ${inWords(String(wire.b))}`);
  const wires = laid.wires.map(({ a, b, run, joint }) => ({ from: a, to: b, run, joint }));
  return {
    svg: `${svgText(root)}\n`,
    wires,
    broken,
    crossings: laid.routed.crossings.length,
    laid: { places: laid.places, cells: [...laid.routed.cells] },
  };
}

/**
 * The networks of all sketches, below the wiring.
 *
 * @param {WiringFacts["parts"]} parts @param {WiringFacts} facts @param {[number, number]} at
 * @param {number} width
 */
function sketchesOf(parts, facts, [x, y], width) {
  const sounds = parts.flatMap(({ name, positions, networks }) =>
    positions.flatMap((position) =>
      networks[position]
        ? [
            {
              position,
              label: (name === facts.selector && facts.labels[position]) || "",
              network: networks[position],
            },
          ]
        : [],
    ),
  );
  const { height, node: drawn } = drawSketch(sounds, width);
  return { height, node: node("g", { class: "drawing", transform: `translate(${x} ${y})` }, drawn) };
}
