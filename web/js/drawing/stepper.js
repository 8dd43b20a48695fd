/** The handle on a part that flips its position. */

import { node, text } from "./nodes.js";

/** @import {Item, Node} from "./types.js" */
/** @typedef {import("./paint.js").Picture} Picture */

/**
 * Return the handle; none on paper.
 *
 * @param {Picture} picture @param {Item} item @param {string} position @param {number} y its baseline
 * @returns {Node[]}
 */
export function stepper(picture, item, position, y) {
  const words = item.shape.wafers || item.part.look === "row" ? position : `position ${position}`;
  if (picture.mode === "print") return [];
  const half = words.length * 3.9 + 17;
  return [
    node(
      "g",
      { class: "stepper", "data-step": item.key },
      node("title", {}, `${item.key}: position ${position} of ${item.part.positions.join(", ")}`),
      node("rect", { x: -half, y: y - 15, width: 2 * half, height: 21, rx: 10 }),
      text(-half + 9, y, "‹", "tiny"),
      text(half - 9, y, "›", "tiny"),
      text(0, y, words, "tiny strong"),
    ),
  ];
}
