import assert from "node:assert/strict";
import { test } from "node:test";
import { drawCoils, joinedInWords, leavesOf } from "../../web/js/shared/coils_drawing.js";

/** @import {Tree} from "../../web/js/shared/types.js" */
const COILS = [
  { name: "bridge_b", at_mm: 40 },
  { name: "bridge_a", at_mm: 58 },
  { name: "neck_b", at_mm: 158 },
  { name: "neck_a", at_mm: 176 },
];
/** @param {string} name @param {boolean} [against] @returns {Tree} */
const coil = (name, against = false) => ({ kind: "coil", name, out_of_phase: against });
/** @param {"series" | "parallel" | "mesh"} kind @param {...Tree} members @returns {Tree} */
const join = (kind, ...members) => ({ kind, members });

test("coils stand from neck to bridge, those of one housing together", () => {
  const { pills } = drawCoils(COILS, []);
  assert.deepEqual(
    pills.map(({ name }) => name),
    ["neck_a", "neck_b", "bridge_a", "bridge_b"],
  );
  const gaps = pills.slice(1).map(({ x }, k) => x - pills[k].x);
  assert.ok(gaps[1] > gaps[0] && gaps[0] === gaps[2]);
  assert.ok(pills.every(({ on }) => !on));
});

test("series is drawn below, parallel above", () => {
  const below = drawCoils(COILS, [join("series", coil("neck_a"), coil("neck_b"))]);
  const above = drawCoils(COILS, [join("parallel", coil("neck_a"), coil("bridge_b"))]);
  const { y, height } = below.pills[0];
  assert.deepEqual(
    below.pills.map(({ on }) => on),
    [true, true, false, false],
  );
  assert.ok(ys(below.wires[0].d).every((at) => at >= y + height));
  assert.ok(ys(above.wires[0].d).every((at) => at <= above.pills[0].y));
});

test("nested groups have their own row, and everything lies inside the picture", () => {
  const deep = join(
    "parallel",
    join("series", coil("neck_a"), join("parallel", coil("neck_b"), coil("bridge_a"))),
    coil("bridge_b"),
  );
  const drawing = drawCoils(COILS, [deep]);
  const tops = drawing.wires.map(({ d }) => Math.min(...ys(d)));
  assert.equal(drawing.wires.length, 3);
  assert.ok(new Set(tops).size === 3);
  for (const { d } of drawing.wires) for (const at of ys(d)) assert.ok(at >= 0 && at <= drawing.height);
});

test("a coil that works against the others is marked and named", () => {
  const tree = join("parallel", coil("neck_a"), coil("bridge_a", true));
  assert.deepEqual(
    drawCoils(COILS, [tree])
      .pills.filter(({ outOfPhase }) => outOfPhase)
      .map(({ name }) => name),
    ["bridge_a"],
  );
  assert.equal(joinedInWords([tree]), "two coils in parallel, out of phase");
  assert.equal(joinedInWords([coil("neck_a", true)]), "one coil");
});

test("how coils are joined, in words", () => {
  const pair = (/** @type {string} */ a, /** @type {string} */ b) => join("series", coil(a), coil(b));
  assert.equal(joinedInWords([]), "no coil");
  assert.equal(joinedInWords([pair("neck_a", "neck_b")]), "two coils in series");
  assert.equal(
    joinedInWords([join("parallel", pair("neck_a", "neck_b"), pair("bridge_a", "bridge_b"))]),
    "series pairs in parallel",
  );
  assert.equal(
    joinedInWords([join("parallel", pair("neck_a", "neck_b"), coil("bridge_a"))]),
    "series pair and more in parallel",
  );
  assert.equal(joinedInWords([coil("neck_a"), coil("bridge_a")]), "separate controls");
  assert.equal(joinedInWords([join("mesh", coil("neck_a"), coil("bridge_a"))]), "joined in a mesh");
  assert.equal(leavesOf(join("series", pair("a", "b"), coil("c"))).length, 3);
});

/** Heights that a path of M, V and H visits. @param {string} d */
function ys(d) {
  return [...d.matchAll(/M[\d.]+ ([\d.]+)|V([\d.]+)/g)].map(([, m, v]) => Number(m ?? v));
}
