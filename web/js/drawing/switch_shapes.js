/** How switches look: a ring of lugs, two columns, or one row. */

import { onGrid } from "./grid.js";

/** @import {Box, Direction, Lug, PartFacts, Shape} from "./types.js" */

const RADIUS = 74;
/** Half the room of a wafer: where wires leave it. */
const HALF_WAFER = 100;
const WAFER_STEP = 2 * HALF_WAFER + 60;
/** Most lugs of a column with the wide pitch. */
const MOST_WIDE = 8;

/** @param {PartFacts} part @returns {Shape} */
export function switchShape(part) {
  if (part.look === "rotary") return rotaryShape(part);
  return part.poles.length ? columnsShape(part) : rowShape(part);
}

/**
 * Return a lug whose wires leave it through `exits`.
 *
 * @param {PartFacts} part @param {string} name @param {number} x @param {number} y
 * @param {[number, number, Direction][]} exits @param {Partial<Lug>} [more] @returns {Lug}
 */
export function lug(part, name, x, y, exits, more = {}) {
  return {
    terminal: `${part.name}.${name}`,
    name,
    x,
    y,
    exits: exits.map(([ex, ey, dir]) => ({ x: ex, y: ey, dir })),
    label: "none",
    dx: 0,
    dy: 0,
    ...more,
  };
}

/** One row of lugs, their names in them. @param {PartFacts} part @returns {Shape} */
function rowShape(part) {
  const pitch = 30;
  const half = ((part.lugs.length - 1) * pitch) / 2;
  const lugs = part.lugs.map((name, k) => {
    const y = onGrid(k * pitch - half);
    return lug(part, name, 0, y, [[-50, y, "l"], [50, y, "r"]], { label: "inside" }); // prettier-ignore
  });
  const top = onGrid(-half) - 42;
  /** @type {Box} */
  const body = [-42, top, 42, onGrid((part.lugs.length - 1) * pitch - half) + 42];
  return { type: "switch", boxes: [body], lugs, words: [], keep: body };
}

/** Two columns of lugs, a pole below the other. @param {PartFacts} part @returns {Shape} */
function columnsShape(part) {
  const rows = part.poles.map((pole) => (isThrow(part, pole) ? [pole[1], pole[0], pole[2]] : pole));
  /** @type {string[][][]} */
  const columns = [[], []];
  rows.forEach((row, k) => columns[k % 2].push(row));
  const counts = columns.map((column) => column.reduce((sum, row) => sum + row.length, 0));
  const pitch = Math.max(...counts) > MOST_WIDE ? 20 : 30;
  const gap = 20;
  const half = rows.length > 1 ? 70 : 50;
  const heights = columns.map(
    (column) =>
      column.reduce((sum, row) => sum + (row.length - 1) * pitch, 0) +
      Math.max(0, column.length - 1) * (pitch + gap),
  );
  const total = Math.max(...heights);
  const top = onGrid(-total / 2);
  /** @type {Lug[]} */
  const lugs = [];
  columns.forEach((column, side) => {
    const sign = side ? 1 : -1;
    let y = top;
    for (const row of column) {
      for (const name of row) {
        const exit = /** @type {[number, number, Direction]} */ ([sign * (half + 20), y, side ? "r" : "l"]);
        lugs.push(lug(part, name, sign * half, y, [exit], { label: "side", dx: -26 * sign }));
        y += pitch;
      }
      y += gap;
    }
  });
  const order = new Map(part.lugs.map((name, k) => [name, k]));
  lugs.sort((a, b) => Number(order.get(a.name)) - Number(order.get(b.name)));
  /** @type {Box} */
  const body = [-half - 14, top - 34, half + 14, top + total + 40];
  return { type: "switch", boxes: [body], lugs, words: [], keep: body };
}

/**
 * A pole of three lugs whose common one lies in the middle.
 *
 * @param {PartFacts} part @param {string[]} pole
 */
const isThrow = (part, pole) => part.look !== "slide" && part.look !== "blade" && pole.length === 3;

/** Rings of lugs, a few poles on each wafer. @param {PartFacts} part @returns {Shape} */
function rotaryShape(part) {
  const rows = part.poles.length ? part.poles : [part.lugs];
  const each = Math.max(1, Math.floor(12 / Math.max(1, rows[0].length - 1)));
  const wafers = [];
  for (let k = 0; k < rows.length; k += each) wafers.push(rows.slice(k, k + each));
  /** @type {Shape} */
  const shape = { type: "switch", boxes: [], lugs: [], words: [], keep: [0, 0, 0, 0], wafers: [] };
  wafers.forEach((poles, k) => {
    const cy = onGrid((k - (wafers.length - 1) / 2) * WAFER_STEP);
    const half = HALF_WAFER - 6;
    shape.boxes.push([-half, cy - half, half, cy + half]);
    shape.wafers?.push({ cy, poles: poles.map((pole) => pole[0]) });
    shape.lugs.push(...waferLugs(part, poles, cy));
  });
  const top = shape.boxes[0][1];
  const words = Math.min(170, 9 * part.name.length);
  shape.boxes.push([-88, top - 18, -88 + Math.max(56, words), top - 2]);
  shape.keep = [-HALF_WAFER, top - 20, HALF_WAFER, shape.boxes[wafers.length - 1][3]];
  const order = new Map(part.lugs.map((name, k) => [name, k]));
  shape.lugs.sort((a, b) => Number(order.get(a.name)) - Number(order.get(b.name)));
  return shape;
}

/**
 * The lugs of one wafer. The first pole stands on the left and is read downwards from its common lug; the
 * second stands on the right.
 *
 * @param {PartFacts} part @param {string[][]} poles @param {number} cy @returns {Lug[]}
 */
function waferLugs(part, poles, cy) {
  const found = poles.flatMap((pole, side) => {
    const span = (2 * Math.PI) / poles.length;
    const gap = span / (pole.length + 0.35);
    return pole.map((name, k) => {
      const off = (k - (pole.length - 1) / 2) * gap;
      const twoSided = side === 0 ? Math.PI - off : off;
      return { name, angle: poles.length === 2 ? twoSided : side * span + off - Math.PI / 2 };
    });
  });
  /** @type {Record<Direction, {name: string, angle: number, along: number}[]>} */
  const sides = { l: [], r: [], u: [], d: [] };
  for (const { name, angle } of found) {
    const [across, down] = [Math.cos(angle), Math.sin(angle)];
    const flat = Math.abs(across) >= Math.abs(down) * 0.62;
    const vertical = down > 0 ? "d" : "u";
    const dir = flat ? (across > 0 ? "r" : "l") : vertical;
    sides[dir].push({ name, angle, along: onGrid((flat ? down * 0.98 : across) * HALF_WAFER) });
  }
  return /** @type {Direction[]} */ (Object.keys(sides)).flatMap((dir) =>
    spread(sides[dir]).map(({ name, angle, along }) => {
      const [x, y] = [Math.cos(angle) * RADIUS, cy + Math.sin(angle) * RADIUS];
      const out = dir === "r" || dir === "d" ? HALF_WAFER : -HALF_WAFER;
      const exit = dir === "l" || dir === "r" ? [out, cy + along] : [along, cy + out];
      const to = { dx: -Math.cos(angle) * 17, dy: -Math.sin(angle) * 17 };
      return lug(part, name, x, y, [[exit[0], exit[1], dir]], { label: "ring", angle, cy, ...to });
    }),
  );
}

/**
 * Move exits of one side apart, at least two tracks between neighbours where there is room.
 *
 * @template {{along: number}} E
 * @param {E[]} exits @returns {E[]}
 */
function spread(exits) {
  const list = [...exits].sort((a, b) => a.along - b.along);
  const pitch = list.length > 9 ? 10 : 20;
  for (let k = 1; k < list.length; k++) list[k].along = Math.max(list[k].along, list[k - 1].along + pitch);
  const over = list.length ? Math.max(0, list[list.length - 1].along - 90) : 0;
  const back = Math.ceil(over / 20) * 10;
  for (const exit of list) exit.along -= back;
  return list;
}
