/** The grid that wires run on. */

/** @import {Direction, Point} from "./types.js" */

/** Pitch of the grid. */
export const PITCH = 10;

/** @type {Record<Direction, Point>} */
export const STEPS = { r: [1, 0], d: [0, 1], l: [-1, 0], u: [0, -1] };

/** The directions by number, as the router counts them. @type {Direction[]} */
export const DIRECTIONS = ["r", "d", "l", "u"];

/** @type {Record<Direction, Direction>} */
export const TURNED = { r: "d", d: "l", l: "u", u: "r" };

/** @param {number} value */
export const onGrid = (value) => Math.round(value / PITCH) * PITCH;

/** @param {string} terminal */
export const partOf = (terminal) => terminal.slice(0, terminal.indexOf("."));

/** @param {string} terminal */
export const lugOf = (terminal) => terminal.slice(terminal.indexOf(".") + 1);
