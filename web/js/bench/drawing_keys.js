/** The drawing by keyboard: one tab stop, arrows from lug to lug. */

/** @import {PlacedLug} from "../drawing/types.js" */

/** How much more a step aside costs than one ahead. */
const ASIDE = 2.2;
/** @type {Record<string, [number, number]>} */
const ARROWS = { ArrowRight: [1, 0], ArrowLeft: [-1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

/**
 * The lug that an arrow leads to; the same one if there is none.
 *
 * @param {PlacedLug[]} lugs @param {PlacedLug} from @param {[number, number]} to
 */
export function nextLug(lugs, from, [dx, dy]) {
  let best = { cost: Infinity, lug: from };
  for (const lug of lugs) {
    const [x, y] = [lug.x - from.x, lug.y - from.y];
    const ahead = x * dx + y * dy;
    if (lug === from || ahead <= 2) continue;
    const cost = ahead + ASIDE * Math.abs(x * dy + y * dx);
    if (cost < best.cost) best = { cost, lug };
  }
  return best.lug;
}

/**
 * @typedef {object} Doings
 * @property {(to: [number, number]) => void} move the cursor
 * @property {() => void} nextWire
 * @property {(by: 1 | -1) => void} position
 * @property {(by: 1 | -1) => void} turn the knob of the pot under the cursor
 * @property {() => void} grounds
 * @property {() => void} joints
 * @property {(by: number) => void} zoom
 * @property {() => void} fit
 * @property {() => void} help
 * @property {() => void} clear
 */

/** @param {SVGSVGElement} picture @param {Doings} doings */
export function listenForDrawingKeys(picture, doings) {
  /** @type {Record<string, () => void>} */
  const keys = {
    w: doings.nextWire,
    "[": () => doings.position(-1),
    "]": () => doings.position(1),
    PageUp: () => doings.turn(1),
    PageDown: () => doings.turn(-1),
    g: doings.grounds,
    j: doings.joints,
    "+": () => doings.zoom(1.25),
    "=": () => doings.zoom(1.25),
    "-": () => doings.zoom(0.8),
    0: doings.fit,
    "?": doings.help,
    Escape: doings.clear,
  };
  picture.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const arrow = ARROWS[event.key];
    const does = arrow
      ? () => doings.move(arrow)
      : keys[event.key.length > 1 ? event.key : event.key.toLowerCase()];
    if (!does) return;
    event.preventDefault();
    event.stopPropagation();
    does();
  });
}
