/**
 * A small drawing of a position's coils and their connection.
 *
 * Every coil of the instrument is a pill in its place, neck to the left. Filled coils sound. A bar above
 * coils connects them in parallel, a bracket below them in series. A notch marks a coil out of phase with
 * the others. A frame stands for a connection that is neither.
 */

/** @import {CoilPlace, Tree} from "./types.js" */

/**
 * @typedef {{x: number, y: number, width: number, height: number, on: boolean, outOfPhase: boolean, name:
 *   string}} Pill
 */
/** @typedef {{d: string, loose: boolean}} Wire */
/** @typedef {{width: number, height: number, pills: Pill[], wires: Wire[]}} Drawing */

const PILL = { width: 8, height: 20 },
  NEAR_MM = 32,
  NEAR_GAP = 6,
  FAR_GAP = 14,
  LEVEL = 5,
  MARGIN = 2;

/** @param {CoilPlace[]} coils @param {Tree[]} groups @param {string[]} [outOfPhase] @returns {Drawing} */
export function drawCoils(coils, groups, outOfPhase = []) {
  const row = [...coils].sort((a, b) => (b.at_mm ?? 0) - (a.at_mm ?? 0));
  const above = Math.max(0, ...groups.map((tree) => depth(tree, "parallel"))) + (groups.length > 1 ? 1 : 0);
  const below = Math.max(0, ...groups.map((tree) => depth(tree, "series")));
  const top = MARGIN + Math.max(2, above) * LEVEL;
  const leaves = new Map(groups.flatMap(leavesOf).map((leaf) => [leaf.name, leaf]));
  let x = MARGIN;
  const pills = row.map((coil, k) => {
    if (k > 0)
      x +=
        PILL.width + (Math.abs((row[k - 1].at_mm ?? 0) - (coil.at_mm ?? 0)) <= NEAR_MM ? NEAR_GAP : FAR_GAP);
    const leaf = leaves.get(coil.name);
    return {
      x,
      y: top,
      ...PILL,
      on: !!leaf,
      outOfPhase: !!leaf?.out_of_phase || outOfPhase.includes(coil.name),
      name: coil.name,
    };
  });
  const places = new Map(pills.map((pill) => [pill.name, pill.x + PILL.width / 2]));
  /** @type {Wire[]} */
  const wires = [];
  const centres = groups.map((tree) => wire(tree, places, top, wires).x);
  if (groups.length > 1)
    wires.push(
      bar(
        centres.sort((a, b) => a - b),
        top,
        top - LEVEL * above,
        true,
      ),
    );
  return {
    width: x + PILL.width + MARGIN,
    height: top + PILL.height + Math.max(2, below) * LEVEL + MARGIN,
    pills,
    wires,
  };
}

/** @param {Tree} tree @returns {{name: string, out_of_phase?: boolean}[]} */
export const leavesOf = (tree) => (tree.kind === "coil" ? [tree] : tree.members.flatMap(leavesOf));

/** Number of stacked bars of a kind. @param {Tree} tree @param {string} kind @returns {number} */
function depth(tree, kind) {
  if (tree.kind === "coil") return 0;
  return Math.max(...tree.members.map((member) => depth(member, kind))) + (tree.kind === kind ? 1 : 0);
}

/**
 * @param {Tree} tree @param {Map<string, number>} places @param {number} top @param {Wire[]} wires
 * @returns {{x: number}}
 */
function wire(tree, places, top, wires) {
  if (tree.kind === "coil") return { x: places.get(tree.name) ?? MARGIN };
  const xs = tree.members.map((member) => wire(member, places, top, wires).x).sort((a, b) => a - b);
  const bottom = top + PILL.height;
  if (tree.kind === "parallel") wires.push(bar(xs, top, top - LEVEL * depth(tree, "parallel"), false));
  if (tree.kind === "series") wires.push(bar(xs, bottom, bottom + LEVEL * depth(tree, "series"), false));
  if (tree.kind === "mesh") {
    const [left, right] = [xs[0] - PILL.width, xs[xs.length - 1] + PILL.width];
    wires.push({ d: `M${left} ${top - 3}H${right}V${bottom + 3}H${left}Z`, loose: true });
  }
  return { x: (xs[0] + xs[xs.length - 1]) / 2 };
}

/**
 * A bar above or below places, with a leg to each.
 * @param {number[]} xs @param {number} from @param {number} to @param {boolean} loose
 * @returns {Wire}
 */
function bar(xs, from, to, loose) {
  const legs = xs.map((x) => `M${x} ${from}V${to}`).join("");
  return { d: `${legs}M${xs[0]} ${to}H${xs[xs.length - 1]}`, loose };
}

/** The connection of coils in words. @param {Tree[]} groups @param {string[]} [outOfPhase] */
export function joinedInWords(groups, outOfPhase = []) {
  if (groups.length === 0) return "no coil";
  const leaves = groups.flatMap(leavesOf);
  const words = groups.length > 1 ? "separate controls" : oneInWords(groups[0]);
  const turned = leaves.some((leaf) => leaf.out_of_phase || outOfPhase.includes(leaf.name));
  return turned && leaves.length > 1 ? `${words}, out of phase` : words;
}

/** @param {Tree} tree */
function oneInWords(tree) {
  if (tree.kind === "coil") return "one coil";
  if (tree.kind === "mesh") return "joined in a mesh";
  const other = tree.kind === "series" ? "parallel" : "series";
  const inner = tree.members.filter((member) => member.kind !== "coil");
  if (inner.length === 0) return `${count(tree.members.length)} in ${tree.kind}`;
  return inner.length === tree.members.length
    ? `${other} pairs in ${tree.kind}`
    : `${other} pair and more in ${tree.kind}`;
}

/** @param {number} n */
const count = (n) => ["no coils", "one coil", "two coils", "three coils", "four coils"][n] ?? `${n} coils`;
