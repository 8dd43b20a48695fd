import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { test } from "node:test";
import { lugLevels, sideOf, wireLevels } from "../../web/js/drawing/carry.js";
import { findPlaces, layWires } from "../../web/js/drawing/layout.js";
import { node, smoothPath, svgText } from "../../web/js/drawing/nodes.js";
import { boundsOf, paint, pictureOf } from "../../web/js/drawing/paint.js";
import { shapesOf, turnsOf } from "../../web/js/drawing/place.js";
import { straightened } from "../../web/js/drawing/route.js";
import { freeNear } from "../../web/js/drawing/spots.js";

const facts = JSON.parse(readFileSync(new URL("reference/drawing_twelve.json", import.meta.url), "utf8"));
const shapes = shapesOf(facts);
const places = findPlaces(facts);

test("every part has a place, and no two rooms touch", () => {
  const { placed } = layWires(facts, shapes, places, { folded: true });
  const named = new Set(placed.items.flatMap((item) => item.names));
  assert.deepEqual(
    facts.parts.filter((part) => !named.has(part.name)),
    [],
  );
  for (const [k, p] of placed.items.entries()) {
    for (const q of placed.items.slice(0, k)) {
      const [a, b] = [p.boxes[0], q.boxes[0]];
      const apart = a[2] <= b[0] || b[2] <= a[0] || a[3] <= b[1] || b[3] <= a[1];
      assert.ok(apart, `${p.key} lies on ${q.key}`);
    }
  }
});

test("pickups stand at their places along the strings, the neck's above", () => {
  const [neck, bridge] = ["neck", "bridge"].map((name) => places[name][1]);
  assert.ok(Math.abs(bridge - neck - (162 - 46) * 3.3) <= 10);
});

test("a joint's wires are a tree of its terminals", () => {
  const { wires } = layWires(facts, shapes, places, { folded: true });
  facts.joints.forEach((joint, number) => {
    const mine = wires.filter((wire) => wire.joint === number);
    if (number === facts.ground) {
      assert.deepEqual(mine.map((wire) => wire.a).sort(), [...joint].sort());
      return;
    }
    assert.equal(mine.length, joint.length - 1);
    assert.equal(sideOf({ ...mine[0], key: "none" }, mine).size, joint.length);
  });
});

test("the same wiring is laid out the same each time", () => {
  assert.deepEqual(findPlaces(facts), places);
});

test("parts that have a place stay there, and a new one finds a spot of its own", () => {
  const { tone_cap: _, ...known } = places;
  const again = findPlaces({ ...facts, places: { ...known, volume: [1000, 300] } });
  assert.deepEqual(again.volume, [1000, 300]);
  assert.deepEqual(again.selector, places.selector);
  assert.ok(again.tone_cap);
});

test("what nothing touches keeps its way when a part is dragged", () => {
  const first = layWires(facts, shapes, places, { folded: true });
  const [x, y, turn] = places.output;
  const moved = { ...places, output: /** @type {[number, number, number]} */ ([x + 20, y, turn ?? 0]) };
  const again = layWires(facts, shapes, moved, { folded: true, effort: "quick", kept: first.routed.cells });
  const kept = [...first.routed.cells].filter(
    ([key, cells]) => JSON.stringify(again.routed.cells.get(key)) === JSON.stringify(cells),
  );
  assert.ok(kept.length >= first.routed.cells.size - 2);
});

test("a wire carries if both its sides do", () => {
  /** @param {string} a @param {string} b */
  const wire = (a, b) => ({ joint: 0, a, b, run: /** @type {const} */ ("wire"), key: `${a}~${b}` });
  const wires = [wire("a.1", "b.1"), wire("b.1", "c.1"), wire("b.1", "d.1")];
  const levels = { "a.1": 2, "c.1": 2, "d.1": 1 };
  const found = wireLevels(wires, levels);
  assert.deepEqual([...found.values()], [2, 2, 1]);
  assert.equal(lugLevels(wires, found, levels).get("b.1"), 2);
});

test("the picture is one document, and names are text in it", () => {
  const laid = layWires(facts, shapes, places, { folded: true });
  const picture = pictureOf(facts, laid, { mode: "sound", state: facts.states[1], knobs: { volume: 5 } });
  const svg = svgText(paint(picture));
  assert.ok(svg.startsWith('<g class="drawing mode-sound"') && svg.includes("level-2"));
  for (const [left, top, right, bottom] of laid.placed.items.map((item) => item.boxes[0])) {
    const bounds = boundsOf(picture);
    assert.ok(left >= bounds[0] && top >= bounds[1] && right <= bounds[2] && bottom <= bounds[3]);
  }
  const odd = svgText(node("text", { "data-drawn": '"<&' }, "a < b & \u0000"));
  assert.equal(odd, '<text data-drawn="&quot;&lt;&amp;">a &lt; b &amp; \ufffd</text>');
});

test("paths lose their needless points and keep their ends", () => {
  /** @type {[number, number][]} */
  const [a, b, c, d] = [[0, 0], [10, 0], [20, 0], [20, 10]]; // prettier-ignore
  assert.deepEqual(straightened([a, b, c, d]), [a, c, d]);
  assert.equal(smoothPath([[0, 0], [0, 40], [40, 40]]), "M0 0L0 31Q0 40 9 40L40 40"); // prettier-ignore
});

test("a run wished for is laid, and the rest of its joint as a tree", () => {
  const number = facts.joints.findIndex(
    (joint) => joint.length > 3 && facts.joints.indexOf(joint) !== facts.ground,
  );
  const joint = facts.joints[number];
  const plain = layWires(facts, shapes, places, { folded: true }).wires.filter(
    (wire) => wire.joint === number,
  );
  const drawn = new Set(plain.flatMap(({ a, b }) => [`${a} ${b}`, `${b} ${a}`]));
  const run = joint
    .flatMap((a, k) => joint.slice(k + 1).map((b) => /** @type {[string, string]} */ ([a, b])))
    .find(([a, b]) => !drawn.has(`${a} ${b}`));
  assert.ok(run);
  const wished = { ...facts, runs: [run, /** @type {[string, string]} */ ([run[1], run[0]])] };
  const mine = layWires(wished, shapes, places, { folded: true }).wires.filter(
    (wire) => wire.joint === number,
  );
  assert.equal(mine.length, joint.length - 1);
  assert.equal(sideOf({ ...mine[0], key: "none" }, mine).size, joint.length);
  assert.ok(mine.some(({ a, b }) => (a === run[0] && b === run[1]) || (a === run[1] && b === run[0])));
});

test("a part that is moved onto another stands beside it", () => {
  const { placed } = layWires(facts, shapes, places, { folded: true });
  const item = placed.items.find(({ key }) => key === "volume");
  const other = placed.items.find(({ key }) => key === "tone");
  assert.ok(item && other);
  const [x, y] = freeNear(placed, item, [other.x, other.y, 0]);
  assert.notDeepEqual([x, y], [other.x, other.y]);
  const again = layWires(facts, shapes, { ...places, volume: [x, y, 0] }, { folded: true });
  const [a, b] = ["volume", "tone"].map(
    (name) => again.placed.items.find(({ key }) => key === name)?.boxes[0],
  );
  assert.ok(a && b && (a[2] <= b[0] || b[2] <= a[0] || a[3] <= b[1] || b[3] <= a[1]));
});

test("a part stands only as its shape allows", () => {
  const { placed } = layWires(facts, shapes, { ...places, neck: [150, 100, 1] }, { folded: true });
  const turns = Object.fromEntries(placed.items.map(({ key, part, shape }) => [key, turnsOf(part, shape)]));
  assert.deepEqual(turns.neck, [0]);
  assert.deepEqual(turns.volume, [0, 1, 2, 3]);
  assert.deepEqual(turns.selector, [0]); // one row of lugs
  assert.deepEqual(turns.phase, [0, 1]);
  assert.equal(placed.items.find(({ key }) => key === "neck")?.turn, 0);
});
