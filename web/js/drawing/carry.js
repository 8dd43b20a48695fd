/** Which wires carry the sound: those between two terminals of one joint that do. */

/** @import {Wire} from "./types.js" */

/**
 * Return each wire's level by its key: 2 carries the sound, 1 loads it, 0 rests.
 *
 * @param {Wire[]} wires @param {Record<string, number>} levels of the terminals; 0 where it is not named
 * @returns {Map<string, number>}
 */
export function wireLevels(wires, levels) {
  /** @type {Map<string, number>} */
  const found = new Map();
  /** @type {Map<number, Wire[]>} */
  const joints = new Map();
  for (const wire of wires) {
    if (wire.b === null) found.set(wire.key, levels[wire.a] ?? 0);
    else joints.set(wire.joint, [...(joints.get(wire.joint) ?? []), wire]);
  }
  for (const tree of joints.values()) {
    for (const wire of tree) found.set(wire.key, levelOf(wire, tree, levels));
  }
  return found;
}

/**
 * Return each lug's level by its terminal: its own, or that of a wire that runs on from it.
 *
 * @param {Wire[]} wires @param {Map<string, number>} wireLevels @param {Record<string, number>} levels
 * @returns {Map<string, number>}
 */
export function lugLevels(wires, wireLevels, levels) {
  const found = new Map(Object.entries(levels));
  for (const { a, b, key } of wires) {
    const level = wireLevels.get(key) ?? 0;
    for (const end of b === null ? [a] : [a, b]) found.set(end, Math.max(found.get(end) ?? 0, level));
  }
  return found;
}

/** @param {Wire} wire @param {Wire[]} tree @param {Record<string, number>} levels */
function levelOf(wire, tree, levels) {
  const side = sideOf(wire, tree);
  const all = new Set(tree.flatMap((one) => [one.a, /** @type {string} */ (one.b)]));
  const here = Math.max(...[...side].map((one) => levels[one] ?? 0));
  const there = Math.max(0, ...[...all].filter((one) => !side.has(one)).map((one) => levels[one] ?? 0));
  return Math.min(here, there);
}

/**
 * The terminals that stay joined to a wire's first end when it is taken out.
 *
 * @param {Wire} wire @param {Wire[]} tree @returns {Set<string>}
 */
export function sideOf(wire, tree) {
  const side = new Set([wire.a]);
  for (let grew = true; grew;) {
    grew = false;
    for (const { a, b, key } of tree) {
      if (b === null || key === wire.key || side.has(a) === side.has(b)) continue;
      side.add(a).add(b);
      grew = true;
    }
  }
  return side;
}
