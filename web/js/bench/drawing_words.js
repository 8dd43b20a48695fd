/** The drawing in words: what a lug, a wire or a part is for. */

import { wireLevels } from "../drawing/carry.js";
import { inWords } from "../drawing/paint_wires.js";
import { plainName } from "../shared/words.js";

/** @import {State, Wire, WiringFacts} from "../drawing/types.js" */
/** @import {Picture} from "../drawing/paint.js" */

const RUNS = { wire: "", stub: "", tie: ", a bare tie", twist: ", twisted together", splice: ", spliced" };
const COILS = {
  heard: "heard",
  shorted: "shorted: silent",
  hangs: "hangs: silent",
  coupled: "heard through its magnetic coupling alone",
};
const LEVELS = ["rests", "loads the sound", "carries the sound"];
const KINDS = { inductor: "choke", metal: "metal part" };
const MOST_NAMED = 4;

/** @param {Picture} picture @param {number} joint */
export const jointName = ({ looks }, joint) =>
  looks[joint].ground ? "ground" : `joint ${looks[joint].label}`;

/** What a lug is soldered to. @param {Picture} picture @param {string} terminal */
export function lugWords(picture, terminal) {
  const joint = picture.joints.get(terminal);
  if (joint === undefined) return `${inWords(terminal)}: joined to nothing.`;
  const others = picture.facts.joints[joint].filter((one) => one !== terminal).map(inWords);
  const named = others.slice(0, MOST_NAMED).join(", ");
  const more = others.length > MOST_NAMED ? ` and ${others.length - MOST_NAMED} more` : "";
  return `${inWords(terminal)}: ${jointName(picture, joint)}${others.length ? ` with ${named}${more}` : ""}.`;
}

/** @param {Wire} wire */
export const wireName = (wire) =>
  `${inWords(wire.a)} to ${wire.b === null ? "ground" : inWords(wire.b)}${RUNS[wire.run]}`;

/**
 * What a wire is for: its joint, and the positions that use it.
 *
 * @param {Picture} picture @param {Wire} wire @param {State[]} states
 */
export function wireWords(picture, wire, states) {
  const used = states
    .filter(({ terminals }) => Number(wireLevels(picture.wires, terminals).get(wire.key)) > 0)
    .map(({ position }) => position);
  const all = used.length === states.length;
  const where = all
    ? states.length > 1
      ? "used in every position"
      : "used"
    : used.length
      ? `used in position${used.length > 1 ? "s" : ""} ${used.join(", ")}`
      : "carries no sound in any position";
  return `${wireName(wire)}: ${jointName(picture, wire.joint)}, ${where}.`;
}

/** @param {Picture} picture @param {string} name */
export function partWords({ facts, state, knobs }, name) {
  const part = facts.parts.find((one) => one.name === name);
  if (!part) return "";
  const kind = KINDS[/** @type {keyof typeof KINDS} */ (part.kind)] ?? part.kind;
  const coil = state?.coils[name];
  const words = [kind, part.value];
  if (coil) words.push(COILS[coil]);
  else if (state) words.push(LEVELS[state.parts[name] ?? 0]);
  if (knobs && part.knob) words.push(`at ${knobs[part.knob] ?? 10}`);
  if (part.shaft) words.push(`on the shaft of ${plainName(part.shaft)}`);
  const stand = state?.stands[name];
  if (stand) words.push(`position ${stand}`);
  return `${plainName(name)}: ${words.filter(Boolean).join(", ")}.`;
}

/**
 * What sounds at each position: the coils, and the parts that carry and rest.
 *
 * @param {WiringFacts} facts @param {State[]} states @returns {string[]}
 */
export const soundWords = (facts, states) =>
  states.map(({ position, coils, parts }) => {
    const heard = Object.keys(coils).filter((name) => coils[name] === "heard" || coils[name] === "coupled");
    const rest = facts.parts.map(({ name }) => name).filter((name) => !parts[name] && !heard.includes(name));
    const silent = rest.map((name) =>
      coils[name] && coils[name] !== "hangs" ? `${name} (${coils[name]})` : name,
    );
    const sound = heard.length
      ? `${heard.map(plainName).join(" and ")} sound${heard.length > 1 ? "" : "s"}`
      : "nothing sounds";
    return `Position ${position}: ${sound}.${silent.length ? ` At rest: ${silent.join(", ")}.` : ""}`;
  });

/**
 * The lugs that each switch joins, by position.
 *
 * @param {WiringFacts} facts @returns {{name: string, rows: [string, string][]}[]}
 */
export const contactWords = ({ parts }) =>
  parts
    .filter(({ contacts }) => Object.keys(contacts).length)
    .map(({ name, contacts }) => ({
      name,
      rows: Object.entries(contacts).map(([position, groups]) => [
        position,
        groups.map((group) => group.join(" with ")).join("; ") || "none",
      ]),
    }));

/** The wires of each joint, one line each. @param {Picture} picture @returns {string[]} */
export const runWords = (picture) =>
  picture.facts.joints.flatMap((_, k) => {
    const level = picture.state ? `, ${LEVELS[picture.state.joints[k] ?? 0]}` : "";
    const wires = picture.wires.filter((wire) => wire.joint === k && wire.b !== null).map(wireName);
    const name = jointName(picture, k);
    const head = `${name[0].toUpperCase()}${name.slice(1)}${level}`;
    return `${head}: ${wires.length ? wires.join("; ") : "each of its lugs has a ground symbol"}.`;
  });

/** Wires that the drawing could not lay. @param {Picture} picture @returns {string[]} */
export const brokenWords = ({ routed }) =>
  routed.broken.map((wire) => `${wireName(wire)}: both ends are marked.`);

export const KEYS =
  "A switch flips by its handle, a pot moves by its own. Arrows: lug to lug. Enter: pick a lug up, solder it to the next. W: next wire here. Delete: unsolder the wire, " +
  "take the lug off, remove the part. P: the part here. X: swap its leads. F2: its name. R: turn it. " +
  "Shift with arrows: move it. T: tidy. [ and ]: position. Page up, page down on a pot: its knob. " +
  "G: every ground wire. J: joints. +, -, 0: zoom. Escape: put down. Ctrl+Z: undo. ?: these keys.";
