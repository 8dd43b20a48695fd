/** Switches as elements: the deck, and each closed contact a bar that bridges its lugs. */

import { lugOf } from "./grid.js";
import { node, round, short, smoothPath, text } from "./nodes.js";
import { stepper } from "./stepper.js";

/** @import {Contact, Item, Node, PlacedLug} from "./types.js" */
/** @typedef {import("./paint.js").Picture} Picture */

const ARC = 33;
const SPOKE = 45;
const RING = 74;

/** @param {Picture} picture @param {Item} item @returns {(Node | null)[]} */
export function paintSwitch(picture, item) {
  const contacts = picture.state?.contacts.filter((one) => one.part === item.key) ?? [];
  const position = picture.stands?.[item.key];
  const decks = item.shape.wafers ? wafers(picture, item) : [deck(item)];
  const bars = contacts.map((contact) => bar(picture, item, contact));
  const [left, top, , bottom] = local(item, item.boxes[0]);
  const { wafers: rings } = item.shape;
  const name = rings
    ? text(
        -88,
        Math.min(...item.boxes.slice(0, -1).map((box) => box[1])) - item.y - 4,
        item.key,
        "name",
        "start",
      )
    : text(0, top + 19, short(item.key, left < -60 ? 18 : 9), "name small");
  const rows = rings ? rings.map(({ cy }) => (item.upside ? -cy : cy) + 5) : [bottom - 13];
  const steppers = position ? rows.flatMap((y) => stepper(picture, item, position, y)) : [];
  return [node("title", {}, item.key), ...decks, ...bars, name, ...steppers];
}

/** @param {Item} item @param {[number, number, number, number]} box */
const local = (item, [left, top, right, bottom]) => [
  left - item.x,
  top - item.y,
  right - item.x,
  bottom - item.y,
];

/** @param {Item} item */
function deck(item) {
  const [left, top, right, bottom] = local(item, item.boxes[0]);
  const inset = item.part.look === "row" ? 0 : 8;
  const width = right - left - 2 * inset;
  return node("rect", { x: left + inset, y: top, width, height: bottom - top, rx: 8, class: "deck" });
}

/** @param {Picture} picture @param {Item} item */
function wafers(picture, item) {
  return (item.shape.wafers ?? []).flatMap(({ cy }) => {
    const y = item.upside ? -cy : cy;
    return [
      node("rect", { x: -88, y: y - 88, width: 176, height: 176, rx: 20, class: "deck" }),
      node("circle", { cy: y, r: RING + 8, class: "wafer-ring" }),
      picture.stands?.[item.key] ? null : node("circle", { cy: y, r: 9, class: "shaft" }),
    ];
  });
}

/** @param {Picture} picture @param {Item} item @param {Contact} contact */
function bar(picture, item, { a, b, level }) {
  const [p, q] = [a, b].map((one) => item.lugs.find((lug) => lug.terminal === one));
  if (!p || !q) return null;
  const d = p.angle === undefined ? bridge(item, p, q) : arc(p, q);
  const classes = `contact level-${picture.mode === "sound" ? level : 0}`;
  return node("path", { d, class: classes }, node("title", {}, `${lugOf(a)} and ${lugOf(b)} joined`));
}

/** @param {Item} item @param {PlacedLug} p @param {PlacedLug} q */
function bridge(item, p, q) {
  const [x0, y0, x1, y1] = [p.x - item.x, p.y - item.y, q.x - item.x, q.y - item.y];
  const inside = x0 < 0 ? 16 : -16;
  const x = item.part.look === "row" ? 20 : x0 + inside;
  return smoothPath([[x0, y0], [x, y0], [x, y1], [x1, y1]], 7); // prettier-ignore
}

/** @param {PlacedLug} p @param {PlacedLug} q */
function arc(p, q) {
  const [from, to, cy] = [Number(p.angle), Number(q.angle), Number(p.cy)];
  /** @param {number} angle @param {number} radius */
  const at = (angle, radius) => `${round(Math.cos(angle) * radius)} ${round(cy + Math.sin(angle) * radius)}`;
  const turn = ((((to - from) % (2 * Math.PI)) + 3 * Math.PI) % (2 * Math.PI)) - Math.PI;
  const sweep = turn > 0 ? 1 : 0;
  return `M${at(from, SPOKE)}L${at(from, ARC)}A${ARC} ${ARC} 0 0 ${sweep} ${at(to, ARC)}L${at(to, SPOKE)}`;
}
