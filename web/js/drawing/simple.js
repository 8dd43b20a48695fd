/** A picture for those who do not solder: parts, names and wires, without lug names and numbers. */

/** @import {Node} from "./types.js" */

/** @typedef {"full" | "simple" | "small"} Detail  small: no words at all, for a list */

/** What only a hand needs. */
const FOR_HANDS = new Set(["hit", "hit-dot", "stepper"]);
/** What only a builder needs. */
const FOR_BUILDERS = new Set(["badges", "lug-name", "tiny", "value", "pad", "eye", "state"]);

/**
 * Leave out what a picture need not show.
 *
 * @param {Node} drawn @param {Detail} detail
 * @returns {Node}
 */
export function simplified(drawn, detail) {
  if (detail === "full") return drawn;
  /** @param {Node | string} one @returns {(Node | string)[]} */
  const kept = (one) => {
    if (typeof one === "string") return [one];
    const classes = String(one.attributes.class ?? "").split(" ");
    if (classes.some((name) => FOR_HANDS.has(name) || FOR_BUILDERS.has(name))) return [];
    if (detail === "small" && (one.tag === "text" || one.tag === "title")) return [];
    const children = one.children.flatMap(kept);
    if (one.tag === "g" && !children.length) return [];
    return [{ ...one, children }];
  };
  const attributes = { ...drawn.attributes, class: `${drawn.attributes.class} ${detail}` };
  return { ...drawn, attributes, children: drawn.children.flatMap(kept) };
}
