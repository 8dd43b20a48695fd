/**
 * Controls on one shaft as one part: a push-pull above its pot, two pots back to back, further ones above
 * with room for their wires.
 */

import { onGrid } from "./grid.js";

/** @import {Box, Lug, Member, PartFacts, Shape} from "./types.js" */

/** Room between controls whose lugs face one another. */
const BETWEEN = 60;

/**
 * The parts on each shaft, the one that turns it last; only shafts with several.
 *
 * @param {PartFacts[]} parts @returns {PartFacts[][]}
 */
export function gangsOf(parts) {
  const named = new Map(parts.map((part) => [part.name, part]));
  /** @param {PartFacts} part @param {number} steps @returns {PartFacts} */
  const head = (part, steps) => {
    const next = part.shaft ? named.get(part.shaft) : undefined;
    return next && steps > 0 ? head(next, steps - 1) : part;
  };
  /** @type {Map<PartFacts, PartFacts[]>} */
  const gangs = new Map();
  for (const part of parts) {
    const top = head(part, parts.length);
    if (top === part) continue;
    gangs.set(top, [...(gangs.get(top) ?? []), part]);
  }
  const level = (/** @type {PartFacts} */ part) => (part.kind === "pot" ? 0 : 1);
  return [...gangs].map(([top, others]) => [...others.sort((p, q) => level(p) - level(q)).reverse(), top]);
}

/**
 * Return the shape of parts on one shaft, the last one below.
 *
 * @param {{part: PartFacts, shape: Shape}[]} parts @returns {Shape}
 */
export function gangShape(parts) {
  const [last, ...above] = [...parts].reverse();
  /** @type {Member[]} */
  const members = [{ ...last, dy: 0, turn: 0 }];
  let top = last.shape.boxes[0][1];
  for (const { part, shape } of above) {
    const isPot = shape.type === "pot";
    const isTouching = members.length === 1 && (!isPot || above.length === 1);
    // a pot that stands on the other turns its lugs up
    const turn = isTouching && isPot ? 2 : 0;
    const boxes = shape.boxes.map((box) => flipped(box, turn));
    const bottom = Math.max(...boxes.map((box) => box[3]), ...(turn ? [] : shape.lugs.map((one) => one.y)));
    const dy = onGrid(top - bottom - (isTouching ? 0 : BETWEEN) - 4);
    members.push({ part, shape, dy, turn });
    top = dy + Math.min(...boxes.map((box) => box[1]));
  }
  const keeps = members.map(({ shape, dy, turn }) => moved(flipped(shape.keep, turn), dy));
  return {
    type: "gang",
    boxes: members.flatMap(({ shape, dy, turn }) => shape.boxes.map((box) => moved(flipped(box, turn), dy))),
    lugs: members.flatMap(({ shape }) => shape.lugs),
    words: [],
    keep: [
      Math.min(...keeps.map((box) => box[0])),
      Math.min(...keeps.map((box) => box[1])),
      Math.max(...keeps.map((box) => box[2])),
      Math.max(...keeps.map((box) => box[3])),
    ],
    members,
  };
}

/** @param {Box} box @param {number} turn @returns {Box} */
const flipped = ([left, top, right, bottom], turn) =>
  turn === 2 ? [-right, -bottom, -left, -top] : [left, top, right, bottom];

/** @param {Box} box @param {number} dy @returns {Box} */
const moved = ([left, top, right, bottom], dy) => [left, top + dy, right, bottom + dy];

/**
 * Leave out ways that lead into the other controls of the shaft.
 *
 * @template {Lug} L
 * @param {L} lug @param {Box[]} others @returns {L}
 */
export function openWays(lug, others) {
  const open = lug.exits.filter(
    ({ x, y }) => !others.some(([a, b, c, d]) => x >= a - 4 && x <= c + 4 && y >= b - 4 && y <= d + 4),
  );
  return { ...lug, exits: open.length ? open : lug.exits };
}
