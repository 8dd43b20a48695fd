/** The sketches of a wiring, and the sounds of each. */

/** @import {Check} from "../shared/types.js" */

/**
 * The positions of a sketch, or null for a switch: its positions are those of the part that one bought.
 * @param {Pick<Check, "parts" | "selector">} check  selector: the sketch's name
 * @returns {{name: string, sound: string}[] | null}
 */
export function sketchedPositions({ parts, selector }) {
  const part = parts.find(({ name }) => name === selector);
  const list = part?.kind === "sketch" ? part.lists?.[0] : undefined;
  return list ? list.items.map(({ fields: [{ name, value }] }) => ({ name, sound: value })) : null;
}

/** Names of the sketches beside the selector. @param {Pick<Check, "parts" | "selector">} check */
export const otherSketches = ({ parts, selector }) =>
  parts.filter(({ name, kind }) => kind === "sketch" && name !== selector).map(({ name }) => name);
