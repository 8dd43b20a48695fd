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
  const stand = state?.stands[name];
  if (stand) words.push(`position ${stand}`);
  return `${plainName(name)}: ${words.filter(Boolean).join(", ")}.`;
}

/**
 * The whole drawing as lines: parts, then joints with their wires, then what found no way.
 *
 * @param {Picture} picture @param {WiringFacts} facts @returns {{head: string, lines: string[]}[]}
 */
export function drawingWords(picture, facts) {
  const joints = facts.joints.map((terminals, k) => {
    const level = picture.state ? `, ${LEVELS[picture.state.joints[k] ?? 0]}` : "";
    const wires = picture.wires.filter((wire) => wire.joint === k && wire.b !== null).map(wireName);
    const name = jointName(picture, k);
    const head = `${name[0].toUpperCase()}${name.slice(1)}${level}: ${terminals.map(inWords).join(", ")}.`;
    return wires.length ? `${head} Wires: ${wires.join("; ")}.` : head;
  });
  const found = [
    { head: "Parts", lines: facts.parts.map(({ name }) => partWords(picture, name)) },
    { head: "Joints", lines: joints },
  ];
  const broken = picture.routed.broken.map((wire) => `${wireName(wire)}: both ends are marked.`);
  if (broken.length) found.push({ head: "Wires without a way on the drawing", lines: broken });
  return found;
}

export const KEYS =
  "Arrows: lug to lug. W: next wire here. P: choose the part here. Shift with arrows: move it. R: turn it. " +
  "[ and ]: position. Page up, page down on a pot: its knob. " +
  "G: every ground wire. J: joints. +, -, 0: zoom. ?: these keys.";
