import assert from "node:assert/strict";
import { test } from "node:test";
import { moveEdits } from "../../web/js/bench/positions.js";
import { otherSketches, sketchedPositions } from "../../web/js/session/sketches.js";
import { moved, startRanging, withLabels } from "../../web/js/session/ranging.js";

const item = (/** @type {string} */ name, /** @type {string} */ value) => ({
  fields: [{ name, value, form: "expression", path: ["parts", "selector", "positions", name] }],
  remove: [],
});
const check = (/** @type {Record<string, [string, string]>} */ rows, kind = "sketch") => ({
  selector: "selector",
  parts: [
    {
      name: "selector",
      kind,
      fields: [],
      lists: [
        {
          name: "positions",
          items: Object.entries(rows).map(([name, [sound]]) => item(name, sound)),
          add: item("9", "").fields[0],
        },
      ],
    },
  ],
  positions: Object.entries(rows).map(([position, [, label]]) => ({ position, label })),
});
const THREE = check({ 1: ["neck", "Warm"], 2: ["neck | bridge", ""], 3: ["bridge", 'The "edge"'] });

test("sounds move from place to place, and their labels with them", () => {
  assert.deepEqual(moveEdits(THREE, 2, 1), {
    edits: [
      {
        path: ["parts", "selector", "positions"],
        value: '{1: "neck", 2: "bridge", 3: "neck | bridge"}',
      },
      { path: ["labels"], value: '{1: "Warm", 2: "The \\"edge\\""}' },
    ],
    position: "2",
  });
});

test("named positions move with their names, which their labels follow by themselves", () => {
  const named = check({ warm: ["neck", "Warm"], sharp: ["bridge", ""] });
  assert.deepEqual(moveEdits(named, 0, 1), {
    edits: [{ path: ["parts", "selector", "positions"], value: '{sharp: "bridge", warm: "neck"}' }],
    position: "warm",
  });
});

test("nothing moves past an end, nor on a switch", () => {
  assert.equal(moveEdits(THREE, 0, -1), null);
  assert.equal(moveEdits(THREE, 2, 3), null);
  assert.equal(sketchedPositions(check({ 1: ["[A0, A1]", ""] }, "switch")), null);
});

test("a list's item moves and the others keep their order", () => {
  assert.deepEqual(moved(["a", "b", "c", "d"], 3, 1), ["a", "d", "b", "c"]);
  assert.deepEqual(moved(["a", "b", "c"], 0, 2), ["b", "c", "a"]);
});

test("a label stays with its sound after it left the sketch, until it is taken off", () => {
  const first = withLabels(startRanging().labels, [{ label: "Warm", sound: "neck" }]);
  const second = withLabels(first, [{ label: "Edge", sound: "bridge" }]);
  assert.deepEqual(second, { neck: "Warm", bridge: "Edge" });
  assert.deepEqual(withLabels(second, [{ label: "", sound: "neck" }]), { bridge: "Edge" });
  const many = Array.from({ length: 90 }, (_, k) => ({ label: "l", sound: `s${k}` }));
  assert.equal(Object.keys(withLabels(second, many)).length, 60);
});

test("the sketches beside the selector are named, and their sounds read", () => {
  const { parts } = check({ 1: ["neck", ""] }),
    fat = { ...check({ thin: ["drain", ""], fat: ["cap", ""] }).parts[0], name: "fat" },
    toggle = { name: "toggle", kind: "switch", fields: [] };
  const whole = { parts: [...parts, fat, toggle], selector: "selector" };
  assert.deepEqual(otherSketches(whole), ["fat"]);
  assert.deepEqual(sketchedPositions({ ...whole, selector: "fat" }), [
    { name: "thin", sound: "drain" },
    { name: "fat", sound: "cap" },
  ]);
  assert.equal(sketchedPositions({ ...whole, selector: "toggle" }), null);
});
