/** The picture on the page: what has changed since the last paint is made anew, the rest stays. */

import { build } from "../shared/dom.js";

/** @import {Node as Painted} from "../drawing/types.js" */

/** Groups whose children are compared one by one. */
const DEEP = 2;

/**
 * Paint into an element, again and again.
 *
 * @param {SVGElement} layer
 * @returns {(root: Painted) => void}
 */
export function createPainter(layer) {
  /** @type {Painted | null} */
  let last = null;
  return (root) => {
    const old = layer.firstChild;
    if (last && old) update(/** @type {Element} */ (old), last, root, DEEP);
    else layer.replaceChildren(build(root));
    last = root;
  };
}

/** @param {Element} element @param {Painted} before @param {Painted} now @param {number} depth */
function update(element, before, now, depth) {
  const alike =
    before.tag === now.tag && JSON.stringify(before.attributes) === JSON.stringify(now.attributes);
  if (!alike || depth < 1) return element.replaceWith(build(now));
  const nodes = [...element.childNodes];
  now.children.forEach((child, k) => {
    const [old, node] = [before.children[k], nodes[k]];
    if (node === undefined) element.append(build(child));
    else if (old === undefined || typeof old === "string" || typeof child === "string") {
      if (old !== child) node.replaceWith(build(child));
    } else if (depth > 1) update(/** @type {Element} */ (node), old, child, depth - 1);
    else if (JSON.stringify(old) !== JSON.stringify(child)) node.replaceWith(build(child));
  });
  for (const node of nodes.slice(now.children.length)) node.remove();
}
