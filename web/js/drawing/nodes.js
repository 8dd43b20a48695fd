/**
 * Elements of the picture as plain data, and as text. Text of people is only ever a child or a quoted
 * value.
 */

/** @import {Node, Point} from "./types.js" */

/**
 * @param {string} tag @param {Record<string, string | number | null | undefined | false>} [attributes]
 *   what is
 *   null, undefined or false is left out
 * @param {...(Node | string | null | (Node | string | null)[])} children
 * @returns {Node}
 */
export function node(tag, attributes = {}, ...children) {
  /** @type {Record<string, string | number>} */
  const kept = {};
  for (const [name, value] of Object.entries(attributes)) {
    if (value !== null && value !== undefined && value !== false) kept[name] = value;
  }
  const list = children.flat().filter((child) => child !== null);
  return { tag, attributes: kept, children: /** @type {(Node | string)[]} */ (list) };
}

/**
 * @param {number} x @param {number} y @param {string} words @param {string} classes
 * @param {"start" | "middle" | "end"} [anchor]
 */
export const text = (x, y, words, classes, anchor = "middle") =>
  node("text", { x: round(x), y: round(y), class: classes, "text-anchor": anchor }, words);

/** @param {number} value */
export const round = (value) => Math.round(value * 10) / 10;

/** Cut a name that is too long for its place. @param {string} words @param {number} most letters */
export const short = (words, most) => (words.length > most ? `${words.slice(0, most - 1)}…` : words);

/** A path with rounded corners. @param {Point[]} points @param {number} [radius] */
export function smoothPath(points, radius = 9) {
  let path = `M${round(points[0][0])} ${round(points[0][1])}`;
  for (let k = 1; k < points.length - 1; k++) {
    const [p, q, r] = [points[k - 1], points[k], points[k + 1]];
    const [before, after] = [Math.hypot(q[0] - p[0], q[1] - p[1]), Math.hypot(r[0] - q[0], r[1] - q[1])];
    const cut = Math.min(radius, before / 2, after / 2);
    const start = towards(q, p, cut / before);
    const end = towards(q, r, cut / after);
    path += `L${start}Q${round(q[0])} ${round(q[1])} ${end}`;
  }
  const last = points[points.length - 1];
  return `${path}L${round(last[0])} ${round(last[1])}`;
}

/** @param {Point} from @param {Point} to @param {number} share */
const towards = (from, to, share) =>
  `${round(from[0] + (to[0] - from[0]) * share)} ${round(from[1] + (to[1] - from[1]) * share)}`;

/** An element as the text of an SVG document. @param {Node | string} one @returns {string} */
export function svgText(one) {
  if (typeof one === "string") return escaped(one);
  const attributes = Object.entries(one.attributes)
    .map(([name, value]) => ` ${name}="${escaped(String(value))}"`)
    .join("");
  if (!one.children.length) return `<${one.tag}${attributes}/>`;
  return `<${one.tag}${attributes}>${one.children.map(svgText).join("")}</${one.tag}>`;
}

/** Not allowed in a document, even escaped. */
// eslint-disable-next-line no-control-regex
const NOT_XML = /[\u0000-\u0008\u000b\u000c\u000e-\u001f\ufffe\uffff]/g;

/** @param {string} words */
const escaped = (words) =>
  words
    .replace(NOT_XML, "\ufffd")
    .replaceAll("&", "&amp;")
    .replaceAll("<", "&lt;")
    .replaceAll(">", "&gt;")
    .replaceAll('"', "&quot;");
