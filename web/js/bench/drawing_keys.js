/** The drawing by keyboard: one tab stop, arrows from lug to lug. */

/** @import {PlacedLug} from "../drawing/types.js" */
/** @import {Board} from "./drawing_board.js" */

/** How much more a step aside costs than one ahead. */
const ASIDE = 2.2;
/** @type {Record<string, [number, number]>} */
export const ARROWS = { ArrowRight: [1, 0], ArrowLeft: [-1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

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

/** How a key is called in `board.keys`. @param {KeyboardEvent} event */
export function keyName({ key, shiftKey }) {
  if (key.length > 1) return shiftKey ? `Shift+${key}` : key;
  return key.toLowerCase(); // a letter is the same with Shift; a sign has its own
}

/**
 * Do what a key says, if it says anything.
 *
 * @param {Pick<Board, "keys">} board @param {KeyboardEvent} event
 */
export function doKey({ keys }, event) {
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  const does = keys[keyName(event)];
  if (!does) return;
  event.preventDefault();
  event.stopPropagation();
  does(event);
}

/** Move the keys' lug by arrows and the wires there by W. @param {Board} board */
export function walkLugs(board) {
  const { keys, layer, say } = board;
  const all = () => [...(board.shown()?.placed.lugs.values() ?? [])];
  for (const [key, to] of Object.entries(ARROWS)) {
    keys[key] = () => {
      const lugs = all().filter(({ name }) => name && name !== "casing");
      const from = lugs.find(({ terminal }) => terminal === board.at());
      const next = from ? nextLug(lugs, from, to) : lugs[0];
      if (!next) return;
      board.goTo(next.terminal);
      board.choose({ lug: next.terminal });
    };
  }
  keys.w = () => {
    const at = board.at();
    const mine = board.shown()?.wires.filter(({ a, b }) => a === at || b === at) ?? [];
    if (!mine.length) return say("No wire here.");
    const on = layer.querySelector(".wire.on");
    const key = on instanceof SVGElement ? on.dataset.wire : undefined;
    board.choose({ wire: mine[(mine.findIndex((wire) => wire.key === key) + 1) % mine.length].key });
  };
}
