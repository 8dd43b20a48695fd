/** Wires, lugs and the badges that name joints, as elements. */

import { lugOf, partOf, STEPS } from "./grid.js";
import { node, round, short, smoothPath, text } from "./nodes.js";

/** @import {Node, PlacedLug, Point, Wire} from "./types.js" */
/** @typedef {import("./paint.js").Picture} Picture */

const SYMBOL = "M0 0V6M-8 7H8M-5 11.5H5M-2 16H2";
const SYMBOL_TURNS = { r: -90, d: 0, l: 90, u: 180 };
const SHORTEST_BADGED = 26;

/** Resting wires first, so that what sounds lies above. @param {Picture} picture @returns {Wire[]} */
export const paintOrder = (picture) =>
  [...picture.wires].sort((p, q) => levelOf(picture, p) - levelOf(picture, q));

/** @param {Picture} picture @param {Wire} wire */
const levelOf = (picture, wire) => (picture.mode === "sound" ? (picture.levels.get(wire.key) ?? 0) : 2);

/** A terminal in words, such as "volume 3". @param {string} terminal */
export const inWords = (terminal) =>
  terminal.endsWith(".") ? "the bare wire" : `${partOf(terminal)} ${lugOf(terminal)}`;

/** @param {Picture} picture @param {Wire} wire @returns {Node | null} */
export function paintWire(picture, wire) {
  const look = picture.looks[wire.joint];
  const classes = ["wire", look.hue, `level-${levelOf(picture, wire)}`, wire.run, look.ground ? "earth" : ""];
  const attributes = {
    class: classes.filter(Boolean).join(" "),
    "data-wire": wire.key,
    "data-joint": wire.joint,
  };
  const stub = picture.routed.stubs.get(wire.key);
  if (stub) {
    const { x, y, exit } = stub;
    const d = `M${round(x)} ${round(y)}L${exit.x} ${exit.y}`;
    const turn = `translate(${exit.x} ${exit.y}) rotate(${SYMBOL_TURNS[exit.dir]})`;
    return node(
      "g",
      attributes,
      node("path", { d, class: "outer" }),
      node("path", { d: SYMBOL, class: "symbol", transform: turn }),
      node("path", { d, class: "hit" }),
      node("circle", { cx: exit.x, cy: exit.y, r: 12, class: "hit-dot" }),
    );
  }
  const points = picture.routed.paths.get(wire.key);
  if (!points) return picture.routed.broken.includes(wire) ? brokenEnds(picture, wire, attributes) : null;
  const d = smoothPath(points);
  const inside = points.slice(1, -1);
  const isTied = wire.run === "tie" || wire.run === "twist";
  const { outer, inner } = look.tracer;
  return node(
    "g",
    attributes,
    isTied ? null : node("path", { d: smoothPath(inside.length > 1 ? inside : points), class: "halo" }),
    node("path", { d, class: "outer", "stroke-dasharray": outer || null }),
    inner ? node("path", { d, class: "inner", "stroke-dasharray": inner === "0" ? null : inner }) : null,
    wire.run === "splice" ? sleeve(points) : null,
    node("path", { d, class: "hit" }),
  );
}

/** Places of a stub's numbers, from its end, and how far a line of them is from its middle. */
const STUB_PLACES = [[0, 25], [29, 0], [-29, 0], [0, -25], ...slanted(22, 18)];
const WORDS_HALF = 3.7;

/** @param {number} x @param {number} y @returns {Point[]} */
function slanted(x, y) {
  return [[x, y], [-x, y], [x, -y], [-x, -y]]; // prettier-ignore
}

/**
 * The numbers of the ground wires at a stub, where least lies under them.
 *
 * @param {Picture} picture @param {Wire} wire @param {Point[]} taken
 * @returns {Node | null}
 */
function stubNumbers(picture, wire, taken) {
  const words = picture.numbers?.get(wire.key);
  const stub = picture.routed.stubs.get(wire.key);
  if (!words || !stub) return null;
  const { x, y, dir } = stub.exit;
  const half = WORDS_HALF * words.length;
  const [sx, sy] = STEPS[dir];
  let best = { cost: Infinity, at: /** @type {Point} */ ([x, y]) };
  for (const [k, [px, py]] of STUB_PLACES.entries()) {
    const dx = px ? px + Math.sign(px) * (half - 8) : 0;
    /** @type {Point} */
    const at = [x + dx, y + py];
    const ahead = px * sx + py * sy > 0 ? 0 : 30;
    const cost = k + ahead + coveredBy(picture, taken, at, half);
    if (cost < best.cost) best = { cost, at };
  }
  taken.push(best.at);
  return text(best.at[0], best.at[1] + 4, words, "badge-text stub-text");
}

/**
 * How much a line of words covers.
 *
 * @param {Picture} picture @param {Point[]} taken @param {Point} at @param {number} half
 */
function coveredBy(picture, taken, [x, y], half) {
  const box = [x - half - 3, y - 9, x + half + 3, y + 9];
  const inside = (/** @type {number} */ px, /** @type {number} */ py) =>
    px > box[0] && px < box[2] && py > box[1] && py < box[3];
  let cost = 0;
  for (const lug of picture.placed.lugs.values()) if (inside(lug.x, lug.y)) cost += 60;
  for (const [px, py] of taken) if (Math.abs(px - x) < half + 14 && Math.abs(py - y) < 17) cost += 60;
  for (const [left, top, right, bottom] of picture.placed.items.flatMap((item) => [
    ...item.boxes,
    ...item.words,
  ])) {
    if (left < box[2] && right > box[0] && top < box[3] && bottom > box[1]) cost += 40;
  }
  for (const path of picture.routed.paths.values()) {
    for (let k = 1; k < path.length; k++) {
      const [[ax, ay], [bx, by]] = [path[k - 1], path[k]];
      const steps = Math.ceil(Math.hypot(bx - ax, by - ay) / 5);
      for (let n = 0; n <= steps; n++) {
        if (inside(ax + ((bx - ax) * n) / steps, ay + ((by - ay) * n) / steps)) cost += 4;
      }
    }
  }
  return cost;
}

/**
 * A wire that found no way: an end at each lug that names the other.
 *
 * @param {Picture} picture @param {Wire} wire @param {Record<string, string | number>} attributes
 */
function brokenEnds(picture, wire, attributes) {
  const ends = [wire.a, /** @type {string} */ (wire.b)];
  return node(
    "g",
    { ...attributes, class: `${attributes.class} broken` },
    ends.flatMap((terminal, k) => {
      const lug = picture.placed.lugs.get(terminal);
      if (!lug) return [];
      const exit = lug.exits[0];
      const [dx, dy] = STEPS[exit.dir];
      const anchor = dx > 0 ? "start" : dx < 0 ? "end" : "middle";
      return [
        node("path", { d: `M${round(lug.x)} ${round(lug.y)}L${exit.x} ${exit.y}`, class: "outer" }),
        text(exit.x + 6 * dx, exit.y + 14 * dy + 4, `to ${inWords(ends[1 - k])}`, "broken-words", anchor),
      ];
    }),
  );
}

/** The middle of a path's longest straight piece. @param {Point[]} points */
function longestPiece(points) {
  let best = { p: points[0], q: points[1], length: 0 };
  for (let k = 1; k < points.length; k++) {
    const [p, q] = [points[k - 1], points[k]];
    const length = Math.hypot(q[0] - p[0], q[1] - p[1]);
    if (length > best.length) best = { p, q, length };
  }
  return best;
}

/** The insulating sleeve over a splice. @param {Point[]} points */
function sleeve(points) {
  const { p, q, length } = longestPiece(points);
  const [x, y] = [(p[0] + q[0]) / 2, (p[1] + q[1]) / 2];
  const half = Math.min(15, length / 3);
  const flat = p[1] === q[1];
  const [w, h] = flat ? [half, 5] : [5, half];
  return node("rect", { x: x - w, y: y - h, width: 2 * w, height: 2 * h, rx: 3, class: "sleeve" });
}

/**
 * The number of each joint or step on its wires, where nothing else lies.
 *
 * @param {Picture} picture @returns {Node[]}
 */
export function paintBadges(picture) {
  /** @type {Point[]} */
  const ends = [...picture.routed.stubs.values()].map(({ exit }) => /** @type {Point} */ ([exit.x, exit.y]));
  const taken = [...picture.routed.crossings, ...(picture.numbers ? ends : [])];
  const found = [];
  for (const wire of paintOrder(picture)) {
    const points = picture.routed.paths.get(wire.key);
    const label = picture.numbers?.get(wire.key) ?? picture.looks[wire.joint].label;
    const isBow = wire.run === "tie" || wire.run === "twist";
    const isUnnamed = picture.looks[wire.joint].ground || isBow;
    if (!points || (isUnnamed && !picture.numbers)) continue;
    const at = isBow ? outside(points) : badgePlace(picture, wire, taken);
    if (!at) continue;
    taken.push(at);
    const half = 5 + label.length * 3.6;
    const classes = `badge ${picture.looks[wire.joint].hue} level-${levelOf(picture, wire)}`;
    found.push(
      node(
        "g",
        { class: classes, transform: `translate(${round(at[0])} ${round(at[1])})` },
        node("rect", { x: -half, y: -8, width: 2 * half, height: 16, rx: 8 }),
        text(0, 4, label, "badge-text"),
      ),
    );
  }
  const stubs = picture.wires.map((wire) => stubNumbers(picture, wire, taken));
  return [...stubs.filter((one) => one !== null), ...found];
}

/** Beside a bow, on its outer side. @param {Point[]} points @returns {Point} */
function outside([a, p, q, b]) {
  const [mx, my] = [(p[0] + q[0]) / 2, (p[1] + q[1]) / 2];
  const [dx, dy] = [mx - (a[0] + b[0]) / 2, my - (a[1] + b[1]) / 2];
  const far = Math.hypot(dx, dy) || 1;
  return [mx + (dx / far) * 5, my + (dy / far) * 5];
}

/**
 * On paper every wire has a number, however short.
 *
 * @param {Picture} picture @param {Wire} wire @param {Point[]} taken
 */
function badgePlace(picture, wire, taken) {
  const points = picture.routed.paths.get(wire.key) ?? [];
  const lugs = [...picture.placed.lugs.values()];
  const hasSleeve = wire.run === "splice";
  const most = longestPiece(points).length;
  const least = picture.numbers ? Math.min(SHORTEST_BADGED, most) : SHORTEST_BADGED;
  let best = { score: -Infinity, at: /** @type {Point | null} */ (null) };
  for (let k = 1; k < points.length; k++) {
    const [p, q] = [points[k - 1], points[k]];
    const length = Math.hypot(q[0] - p[0], q[1] - p[1]);
    if (length < least) continue;
    for (const share of [0.5, 0.35, 0.65, 0.2, 0.8]) {
      /** @type {Point} */
      const at = [p[0] + (q[0] - p[0]) * share, p[1] + (q[1] - p[1]) * share];
      const clashes = taken.filter(([x, y]) => Math.hypot(x - at[0], y - at[1]) < 27).length;
      const nearLug = lugs.some((lug) => Math.hypot(lug.x - at[0], lug.y - at[1]) < 20);
      const onSleeve = hasSleeve && length === most;
      const penalty = clashes * 400 + (nearLug ? 300 : 0) + (onSleeve ? 500 : 0);
      const score = Math.min(length, 240) - Math.abs(share - 0.5) * 30 - penalty;
      if (score > best.score) best = { score, at };
    }
  }
  return best.at;
}

const POT_WORDS = [[0, -12], [12, 4], [0, 20], [-12, 4]]; // prettier-ignore

/** @param {Picture} picture @param {PlacedLug} lug @returns {Node} */
export function paintLug(picture, lug) {
  const joint = picture.joints.get(lug.terminal);
  const level = picture.mode === "sound" ? (picture.lugLevels.get(lug.terminal) ?? 0) : 0;
  const classes = `lug level-${level}${joint === undefined ? " free" : ""}`;
  const [x, y] = [round(lug.x), round(lug.y)];
  const inside = lug.label === "inside";
  return node(
    "g",
    { class: classes, "data-lug": lug.terminal, "data-joint": joint },
    node("title", {}, inWords(lug.terminal)),
    node("circle", { cx: x, cy: y, r: 13, class: "hit-dot" }),
    node("circle", { cx: x, cy: y, r: inside ? 10 : 5.5, class: "pad" }),
    inside
      ? text(x, y + 4.5, short(lug.name, 3), "lug-name inside")
      : node("circle", { cx: x, cy: y, r: 2, class: "eye" }),
    inside ? null : lugWords(lug),
  );
}

/** @param {PlacedLug} lug */
function lugWords(lug) {
  if (lug.label === "side") {
    return text(lug.x + lug.dx, lug.y + 4, lug.name, "lug-name", lug.dx < 0 ? "end" : "start");
  }
  if (lug.label === "ring") return text(lug.x + lug.dx, lug.y + lug.dy + 4, lug.name, "lug-name");
  if (lug.label !== "pot") return null;
  const [dx, dy] = POT_WORDS[lug.item.turn];
  return text(lug.x + dx, lug.y + dy, lug.name, "lug-name");
}
