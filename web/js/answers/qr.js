/** A QR code (ISO/IEC 18004, error level M) as rows of modules, true for dark. */

import { codewords } from "./qr_words.js";

/** @import {Said} from "./qr_words.js" */
/** @typedef {(boolean | null)[][]} Grid  null where data will stand */

/** The eight masks (table 10). @type {((y: number, x: number) => boolean)[]} */
const MASKS = [
  (y, x) => (y + x) % 2 === 0,
  (y) => y % 2 === 0,
  (_, x) => x % 3 === 0,
  (y, x) => (y + x) % 3 === 0,
  (y, x) => (Math.floor(y / 2) + Math.floor(x / 3)) % 2 === 0,
  (y, x) => ((y * x) % 2) + ((y * x) % 3) === 0,
  (y, x) => (((y * x) % 2) + ((y * x) % 3)) % 2 === 0,
  (y, x) => (((y + x) % 2) + ((y * x) % 3)) % 2 === 0,
];
const LEVEL_M = 0;

/** @param {number} version @returns {number[]} centres of the alignment patterns (annex E) */
function centres(version) {
  if (version === 1) return [];
  const count = Math.floor(version / 7) + 2,
    last = 4 * version + 10;
  const step = 2 * Math.ceil((last - 6) / (2 * (count - 1)));
  return [6, ...Array.from({ length: count - 1 }, (_, k) => last - step * (count - 2 - k))];
}

/**
 * Squares around a centre.
 * @param {Grid} grid @param {number} y @param {number} x @param {number} reach @param {number[]} dark
 */
function rings(grid, y, x, reach, dark) {
  for (let v = -reach; v <= reach; v += 1)
    for (let u = -reach; u <= reach; u += 1) {
      const row = grid[y + v];
      if (row && x + u >= 0 && x + u < row.length)
        row[x + u] = dark.includes(Math.max(Math.abs(u), Math.abs(v)));
    }
}

/** Everything that does not depend on the text, with room for the format. @param {number} version */
function frame(version) {
  const size = 4 * version + 17,
    edge = size - 4;
  /** @type {Grid} */
  const grid = Array.from({ length: size }, () => Array(size).fill(null));
  for (let k = 0; k < size; k += 1) grid[6][k] = grid[k][6] = k % 2 === 0;
  for (const [y, x] of [
    [3, 3],
    [3, edge],
    [edge, 3],
  ])
    rings(grid, y, x, 4, [0, 1, 3]);
  const places = centres(version),
    end = places.length - 1;
  places.forEach((y, row) =>
    places.forEach((x, column) => {
      const isFinder = (row === 0 && (column === 0 || column === end)) || (row === end && column === 0);
      if (!isFinder) rings(grid, y, x, 2, [0, 2]);
    }),
  );
  drawVersion(grid, version);
  drawFormat(grid, 0);
  return grid;
}

/** @param {number} value @param {number} divisor @param {number} count of check bits (annexes C and D) */
function withBch(value, divisor, count) {
  let rest = value;
  for (let k = 0; k < count; k += 1) rest = (rest << 1) ^ ((rest >> (count - 1)) * divisor);
  return (value << count) | rest;
}

/** @param {Grid} grid @param {number} version */
function drawVersion(grid, version) {
  if (version < 7) return;
  const bits = withBch(version, 0x1f25, 12);
  for (let k = 0; k < 18; k += 1) {
    const [far, near] = [grid.length - 11 + (k % 3), Math.floor(k / 3)];
    grid[near][far] = grid[far][near] = ((bits >> k) & 1) === 1;
  }
}

/** @param {Grid} grid @param {number} mask */
function drawFormat(grid, mask) {
  const size = grid.length,
    bits = withBch((LEVEL_M << 3) | mask, 0x537, 10) ^ 0x5412;
  const bit = (/** @type {number} */ k) => ((bits >> k) & 1) === 1;
  for (let k = 0; k < 15; k += 1) {
    const near = k < 6 ? k : k < 8 ? k + 1 : k === 8 ? 7 : 14 - k;
    if (k < 8) grid[near][8] = bit(k);
    else grid[8][near] = bit(k);
    if (k < 8) grid[8][size - 1 - k] = bit(k);
    else grid[size - 15 + k][8] = bit(k);
  }
  grid[size - 8][8] = true;
}

/** The places of data, in the order of the bits. @param {Grid} grid @returns {[number, number][]} */
function path(grid) {
  const size = grid.length;
  /** @type {[number, number][]} */
  const found = [];
  for (let right = size - 1; right > 0; right -= 2) {
    if (right === 6) right = 5;
    const upward = ((right + 1) & 2) === 0;
    for (let k = 0; k < size; k += 1)
      for (const x of [right, right - 1]) {
        const y = upward ? size - 1 - k : k;
        if (grid[y][x] === null) found.push([y, x]);
      }
  }
  return found;
}

/** How badly a reader may take a code for something else (section 7.8.3). @param {boolean[][]} rows */
function penalty(rows) {
  const columns = rows.map((_, x) => rows.map((row) => row[x]));
  let sum = 0,
    dark = 0;
  for (const line of [...rows, ...columns]) {
    const text = line.map(Number).join("");
    for (const run of text.match(/0{5,}|1{5,}/g) ?? []) sum += run.length - 2;
    for (let at = 0; at + 11 <= text.length; at += 1) {
      const part = text.slice(at, at + 11);
      if (part === "10111010000" || part === "00001011101") sum += 40;
    }
  }
  rows.forEach((row, y) =>
    row.forEach((one, x) => {
      dark += Number(one);
      const below = rows[y + 1];
      if (below && x + 1 < row.length && row[x + 1] === one && below[x] === one && below[x + 1] === one)
        sum += 3;
    }),
  );
  const share = dark / rows.length ** 2;
  return sum + 10 * Math.floor(Math.abs(20 * share - 10));
}

/**
 * The QR code of a text, or null where it is too long for one that a phone reads.
 * @param {Said} said @returns {{version: number, mask: number, rows: boolean[][]} | null}
 */
export function qrCode(said) {
  const found = codewords(said);
  if (!found) return null;
  const { version, words } = found,
    empty = frame(version),
    places = path(empty);
  const bit = (/** @type {number} */ k) => (((words[k >> 3] ?? 0) >> (7 - (k & 7))) & 1) === 1;
  const codes = MASKS.map((inverts, mask) => {
    const grid = empty.map((row) => [...row]);
    drawFormat(grid, mask);
    places.forEach(([y, x], k) => (grid[y][x] = bit(k) !== inverts(y, x)));
    const rows = /** @type {boolean[][]} */ (grid);
    return { version, mask, rows, cost: penalty(rows) };
  });
  return codes.reduce((best, one) => (one.cost < best.cost ? one : best));
}
