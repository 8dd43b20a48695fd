/**
 * Two versions of a wiring in one picture. What came is thick, with a plus; what went is broken, with a
 * minus; what stayed is thin. Nothing is told by colour alone.
 */

import { findPlaces } from "./layout.js";
import { node, svgText, text } from "./nodes.js";
import { boundsOf, paint, pictureOf } from "./paint.js";
import { inWords, paintBadges } from "./paint_wires.js";
import { isLeg, placeShapes, shapesOf } from "./place.js";
import { routeWires } from "./route.js";
import { wiresOf } from "./tree.js";

/** @import {Item, Node, Wire, WiringFacts} from "./types.js" */

const MARGIN = 12;
const PLUS = "+",
  MINUS = "\u2212";

/** The same wire has the same ends, in either order. @param {Wire} wire */
const endsOf = ({ a, b }) => [a, b ?? ""].sort().join("~");

/**
 * Both versions as one: the parts of the later one, and what it no longer has.
 *
 * @param {WiringFacts} before @param {WiringFacts} after @returns {WiringFacts}
 */
function both(before, after) {
  const named = new Set(after.parts.map(({ name }) => name));
  const gone = before.parts.filter(({ name }) => !named.has(name));
  const goneNames = new Set(gone.map(({ name }) => name));
  const housings = before.housings
    .map((coils) => coils.filter((name) => goneNames.has(name)))
    .filter((coils) => coils.length);
  return { ...after, parts: [...after.parts, ...gone], housings: [...after.housings, ...housings] };
}

/**
 * @param {{before: WiringFacts, after: WiringFacts, changed: Record<string, string>, style: string,
 *   title: string}} order  changed: by part, what it was
 * @returns {{svg: string, solder: string[], unsolder: string[]}}
 */
export function drawDifference({ before, after, changed, style, title }) {
  const facts = both(before, after);
  const places = findPlaces(facts);
  const placed = placeShapes(shapesOf(facts), places);
  const old = wiresOf({ ...facts, ...jointsOf(before) }, placed, { folded: true });
  // what is soldered stays: the new joints begin with the old wires
  const runs = old.flatMap(({ a, b }) => (b === null ? [] : [/** @type {[string, string]} */ ([a, b])]));
  const now = wiresOf({ ...facts, runs: [...after.runs, ...runs] }, placed, { folded: true });
  const [had, has] = [new Set(old.map(endsOf)), new Set(now.map(endsOf))];
  const added = now.filter((wire) => !had.has(endsOf(wire)));
  const removed = old
    .filter((wire) => !has.has(endsOf(wire)))
    .map((wire) => ({ ...wire, joint: wire.joint + after.joints.length, key: `${wire.key}${MINUS}` }));
  const joined = { ...facts, joints: [...after.joints, ...before.joints] };
  const wires = [...now, ...removed];
  const routed = routeWires(joined, placed, wires);
  const numbers = new Map([
    ...added.map(({ key }) => /** @type {const} */ ([key, PLUS])),
    ...removed.map(({ key }) => /** @type {const} */ ([key, MINUS])),
  ]);
  const picture = pictureOf(joined, { places, placed, wires, routed }, { mode: "print", state: null });
  const classes = new Map([
    ...added.map(({ key }) => /** @type {const} */ ([key, "came"])),
    ...removed.map(({ key }) => /** @type {const} */ ([key, "went"])),
  ]);
  const marks = paintBadges({ ...picture, wires: [...added, ...removed], numbers });
  const partMarks = placed.items.flatMap((item) => partMark(item, { before, after, changed }));
  const drawn = withMarks(paint(picture), classes);
  const [left, top, right, bottom] = boundsOf(picture);
  const [x, y] = [left - MARGIN, top - MARGIN];
  const [width, height] = [right - left + 2 * MARGIN, bottom - top + 2 * MARGIN];
  const root = node(
    "svg",
    {
      xmlns: "http://www.w3.org/2000/svg",
      viewBox: `${x} ${y} ${width} ${height}`,
      width,
      height,
      class: "drawing-sheet",
      role: "img",
    },
    node("title", {}, title),
    node("style", {}, style),
    node("rect", { x, y, width, height, class: "sheet" }),
    drawn,
    node("g", { class: "drawing mode-print changes" }, node("g", { class: "badges" }, marks), partMarks),
  );
  const words = (/** @type {Wire} */ { a, b }) => `${inWords(a)} to ${b === null ? "ground" : inWords(b)}`;
  return { svg: `${svgText(root)}\n`, solder: added.map(words), unsolder: removed.map(words) };
}

/** @param {WiringFacts} facts */
const jointsOf = ({ joints, ground, runs }) => ({ joints, ground, runs });

/**
 * The picture without its numbers, each wire with its class.
 *
 * @param {Node} drawn @param {Map<string, string>} classes by the wires' keys
 * @returns {Node}
 */
function withMarks(drawn, classes) {
  /** @param {Node | string} one @returns {(Node | string)[]} */
  const marked = (one) => {
    if (typeof one === "string") return [one];
    const { attributes } = one;
    if (attributes.class === "badges") return [];
    const more = classes.get(String(attributes["data-wire"]));
    const dressed = more ? { ...attributes, class: `${attributes.class} ${more}` } : attributes;
    return [{ ...one, attributes: dressed, children: one.children.flatMap(marked) }];
  };
  const attributes = { ...drawn.attributes, class: `${drawn.attributes.class} changes` };
  return { ...drawn, attributes, children: drawn.children.flatMap(marked) };
}

/**
 * The mark of a part that came, went or changed.
 *
 * @param {Item} item
 * @param {{before: WiringFacts, after: WiringFacts, changed: Record<string, string>}} versions
 * @returns {Node[]}
 */
function partMark(item, { before, after, changed }) {
  const [had, has] = [before, after].map(({ parts }) => item.names.some((one) => hasPart(parts, one)));
  const was = item.names.filter((name) => name in changed).map((name) => `${name} was ${changed[name]}`);
  const said = !had ? `${PLUS} new` : !has ? `${MINUS} taken out` : was.length ? `≠ ${was.join(", ")}` : "";
  if (!said) return [];
  const [left, top, right, bottom] = item.boxes[0];
  const kind = !had ? "came" : !has ? "went" : "differs";
  const frame = { x: left - 7, y: top - 7, width: right - left + 14, height: bottom - top + 14, rx: 8 };
  return [
    node(
      "g",
      { class: `part-change ${kind}` },
      node("rect", frame),
      kind === "went" ? node("path", { d: `M${left} ${top}L${right} ${bottom}` }) : null,
      text((left + right) / 2, isLeg(item.part) ? bottom + 26 : top - 13, said, "change-words"),
    ),
  ];
}

/** @param {WiringFacts["parts"]} parts @param {string} name */
const hasPart = (parts, name) => parts.some((part) => part.name === name);
