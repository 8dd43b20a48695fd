/** Shapes at their places: every lug by its terminal, in the drawing's coordinates. */

import { gangShape, gangsOf, openWays } from "./gang_shapes.js";
import { TURNED } from "./grid.js";
import { legRoom, pickupShape, shapeOf } from "./shapes.js";

/** @import {Box, Direction, Item, Lug, Member, PartFacts, Place} from "./types.js" */
/** @import {Placed, PlacedLug, Point, Shape, WiringFacts} from "./types.js" */

/** Small parts between two legs. */
const LEGS = new Set(["capacitor", "resistor", "inductor"]);

/** Parts that may share a shaft. */
const CONTROLS = new Set(["pot", "switch"]);

/** @param {PartFacts} part */
export const isLeg = (part) => LEGS.has(part.kind);

/** Parts whose leads end where they are soldered. @param {PartFacts} part */
export const isLead = (part) => part.kind === "coil" || isLeg(part);

/**
 * The ways in which a part may stand: quarter turns, or of a switch which side its poles face. A pickup and a
 * single row of lugs stand one way.
 *
 * @param {PartFacts} part @param {Shape} shape @returns {number[]}
 */
export function turnsOf(part, shape) {
  if (shape.type === "pickup") return [0];
  if (shape.members) return sidesOf(shape.members);
  if (shape.type !== "switch") return isLeg(part) || shape.type in FREE ? [0, 1, 2, 3] : [0, 2];
  if (shape.wafers) return [0, 1, 2, 3];
  return shape.lugs.some((lug) => lug.label === "inside") ? [0] : [0, 1];
}
/** Sides of controls on one shaft: those of their switch. @param {Member[]} members */
const sidesOf = (members) =>
  members.some(({ part, shape }) => shape.type === "switch" && turnsOf(part, shape).length > 1)
    ? [0, 1]
    : [0];
/** Other shapes that may lie any way. */
const FREE = { pot: true, jack: true };

/**
 * Every shape of a wiring, by its key: the part's name, or a pickup's first coil.
 *
 * @param {WiringFacts} facts @returns {Map<string, {part: PartFacts, names: string[], shape: Shape}>}
 */
export function shapesOf(facts) {
  const named = new Map(facts.parts.map((part) => [part.name, part]));
  const shapes = new Map();
  for (const names of facts.housings) {
    const coils = names.map((name) => /** @type {PartFacts} */ (named.get(name)));
    shapes.set(names[0], { part: coils[0], names, shape: pickupShape(coils) });
  }
  const ganged = new Map();
  for (const parts of gangsOf(facts.parts.filter((part) => CONTROLS.has(part.kind)))) {
    for (const part of parts) ganged.set(part.name, parts);
  }
  for (const part of facts.parts) {
    if (part.kind === "coil") continue;
    const gang = ganged.get(part.name);
    if (gang) {
      if (part !== gang[gang.length - 1]) continue;
      const own = gang.map((/** @type {PartFacts} */ one) => ({ part: one, shape: shapeOf(one) }));
      const names = gang.map((/** @type {PartFacts} */ one) => one.name);
      shapes.set(part.name, { part, names, shape: gangShape(own) });
      continue;
    }
    const shape = shapeOf(part);
    shapes.set(part.name, { part, names: [part.name], shape });
  }
  return shapes;
}

/**
 * Put shapes at their places; a part without a place is left out.
 *
 * @param {ReturnType<typeof shapesOf>} shapes @param {Record<string, Place>} places @returns {Placed}
 */
export function placeShapes(shapes, places) {
  /** @type {Item[]} */
  const items = [];
  /** @type {Map<string, PlacedLug>} */
  const lugs = new Map();
  for (const [key, { part, names, shape }] of shapes) {
    const place = places[key];
    if (!place) continue;
    const item = itemAt(key, part, names, shape, place);
    items.push(item);
    for (const one of item.lugs) lugs.set(one.terminal, one);
  }
  return { items, lugs };
}

/**
 * @param {string} key @param {PartFacts} part @param {string[]} names @param {Shape} shape @param {Place}
 *   place
 * @returns {Item}
 */
export function itemAt(key, part, names, shape, place) {
  if (shape.members) return gangAt(key, part, names, shape, shape.members, place);
  const [x, y, wished = 0] = place;
  const spun = turnsOf(part, shape).includes(wished) ? wished : 0;
  const isSwitch = shape.type === "switch"; // turned, its poles would change sides: it is mirrored instead
  const mirrored = isSwitch && spun % 2 === 1;
  const upside = isSwitch && spun > 1;
  const turn = isSwitch ? 0 : spun;
  /** @param {number} px @param {number} py @returns {Point} */
  const spin = (px, py) => {
    let [qx, qy] = [mirrored ? -px : px, upside ? -py : py];
    for (let k = 0; k < turn; k++) [qx, qy] = [-qy, qx];
    return [qx, qy];
  };
  /** @param {Direction} dir @returns {Direction} */
  const facing = (dir) => {
    let to = dir;
    if (mirrored && (to === "l" || to === "r")) to = to === "l" ? "r" : "l";
    if (upside && (to === "u" || to === "d")) to = to === "u" ? "d" : "u";
    for (let k = 0; k < turn; k++) to = TURNED[to];
    return to;
  };
  /** @param {Box} box @returns {Box} */
  const boxAt = ([a, b, c, d]) => {
    const [p, q] = [spin(a, b), spin(c, d)];
    const [left, right] = [Math.min(p[0], q[0]), Math.max(p[0], q[0])];
    const [top, bottom] = [Math.min(p[1], q[1]), Math.max(p[1], q[1])];
    return [x + left, y + top, x + right, y + bottom];
  };
  const leg = isLeg(part);
  const room = leg ? legRoom(turn) : null;
  /** @type {Item} */
  const item = {
    key,
    names,
    part,
    shape,
    x,
    y,
    turn,
    mirrored,
    upside,
    boxes: shape.boxes.map(boxAt),
    words: leg ? legWords(part, x, y, turn) : shape.words.map(boxAt),
    keep: room ? [x + room[0], y + room[1], x + room[2], y + room[3]] : boxAt(shape.keep),
    lugs: [],
  };
  if (shape.wafers) nameAbove(item, shape);
  for (const one of shape.casing ? [...shape.lugs, shape.casing] : shape.lugs) {
    const [px, py] = spin(one.x, one.y);
    const [dx, dy] = spin(one.dx, one.dy);
    const exits = one.exits.map((exit) => {
      const [ex, ey] = spin(exit.x, exit.y);
      return { x: x + ex, y: y + ey, dir: facing(exit.dir) };
    });
    item.lugs.push({
      ...one,
      x: x + px,
      y: y + py,
      dx,
      dy,
      exits,
      ...ringPlace(one, mirrored, upside),
      item,
    });
  }
  return item;
}

/**
 * @param {string} key @param {PartFacts} part @param {string[]} names @param {Shape} shape
 * @param {Member[]} own @param {Place} place
 * @returns {Item}
 */
function gangAt(key, part, names, shape, own, [x, y, wished = 0]) {
  const side = turnsOf(part, shape).includes(wished) ? wished : 0;
  const members = own.map((one) => {
    const turn = one.shape.type === "switch" ? side : one.turn;
    return itemAt(one.part.name, one.part, [one.part.name], one.shape, [x, y + one.dy, turn]);
  });
  for (const member of members) {
    const others = members.flatMap((one) => (one === member ? [] : one.boxes));
    member.lugs = member.lugs.map((lug) => openWays(lug, others));
  }
  const keeps = members.map(({ keep }) => keep);
  return {
    key,
    names,
    part,
    shape,
    x,
    y,
    turn: side,
    mirrored: side === 1,
    upside: false,
    boxes: members.flatMap(({ boxes }) => boxes),
    words: members.flatMap(({ words }) => words),
    keep: [
      Math.min(...keeps.map((box) => box[0])),
      Math.min(...keeps.map((box) => box[1])),
      Math.max(...keeps.map((box) => box[2])),
      Math.max(...keeps.map((box) => box[3])),
    ],
    lugs: members.flatMap(({ lugs }) => lugs),
    members,
  };
}

/**
 * Where the words of a small part are written: its name, and a resistor's value above it.
 *
 * @param {PartFacts} part @param {number} x @param {number} y @param {number} turn
 * @returns {Box[]}
 */
function legWords({ name, kind }, x, y, turn) {
  const half = name.length * 4.1;
  if (turn % 2) return [[x + 18, y - 16, x + 24 + 2 * half, y + 16]];
  /** @type {Box[]} */
  const words = [[x - half, y + 17, x + half, y + 36]];
  if (kind === "resistor") words.push([x - 26, y - 32, x + 26, y - 14]);
  return words;
}

/**
 * The name of a rotary stays above it and on the left, however it is turned.
 *
 * @param {Item} item @param {Shape} shape
 */
function nameAbove(item, shape) {
  const { x } = item;
  const [left, , right] = shape.boxes[shape.boxes.length - 1];
  const top = Math.min(...item.boxes.slice(0, -1).map((box) => box[1]));
  item.boxes[item.boxes.length - 1] = [x + left, top - 18, x + right, top - 2];
  item.keep = [item.keep[0], top - 20, item.keep[2], Math.max(...item.boxes.map((box) => box[3]))];
}

/** @param {Lug} one @param {boolean} mirrored @param {boolean} upside */
function ringPlace(one, mirrored, upside) {
  if (one.angle === undefined) return {};
  const mirroredAngle = mirrored ? Math.PI - one.angle : one.angle;
  return { angle: upside ? -mirroredAngle : mirroredAngle, cy: (upside ? -1 : 1) * Number(one.cy) };
}
