/** What a hand means on the drawing, as changes of the wiring: solder two lugs, take a wire out. */

import { sideOf } from "../drawing/carry.js";
import { wiresOf } from "../drawing/tree.js";

/** @import {Wire, WiringFacts} from "../drawing/types.js" */
/** @import {Picture} from "../drawing/paint.js" */
/** @import {Change} from "../shared/types.js" */

/**
 * Solder two lugs. The wire is noted in the file if the drawing would run another one of the joint.
 *
 * @param {Picture} picture @param {string} a @param {string} b @param {boolean} folded
 * @returns {Change}
 */
export function solderChange({ facts, placed }, a, b, folded) {
  const after = soldered(facts, a, b);
  const runs = wiresOf(after, placed, { folded }).some(
    (wire) => wire.b === null || (wire.a === a && wire.b === b) || (wire.a === b && wire.b === a),
  );
  return { do: "solder", terminals: [a, b], run: !runs };
}

/**
 * The joint that two terminals are in once they are soldered.
 *
 * @param {WiringFacts} facts @param {string[]} ends
 */
function soldered(facts, ...ends) {
  const holders = facts.joints.filter((joint) => ends.some((end) => joint.includes(end)));
  const whole = [...new Set([...holders.flat(), ...ends])];
  const isGround = holders.includes(facts.joints[facts.ground]);
  return { ...facts, joints: [whole], ground: isGround ? 0 : -1 };
}

/**
 * Take a wire out: what stays with its first end, and what with the other. Null if nothing that the file
 * names hangs on one of them.
 *
 * @param {Picture} picture @param {Wire} wire @returns {Change | null}
 */
export function unsolderChange({ facts, wires }, wire) {
  if (wire.b === null) return { do: "unsolder", terminal: wire.a };
  const joint = facts.joints[wire.joint];
  const side = sideOf(
    wire,
    wires.filter((one) => one.joint === wire.joint),
  );
  const near = joint.filter((terminal) => side.has(terminal));
  const far = joint.filter((terminal) => !side.has(terminal));
  if (!near.length || !far.length) return null;
  /** @param {string} end @param {string[]} those */
  const named = (end, those) => (those.includes(end) ? end : those[0]);
  return { do: "unsolder wire", ends: [named(wire.a, near), named(wire.b, far)], with_first: near };
}
