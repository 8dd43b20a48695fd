import assert from "node:assert/strict";
import { test } from "node:test";
import { LONGEST_S, stretchOf } from "../../web/js/player/windows.js";

test("a short take is one stretch, its loop as it is", () => {
  assert.deepEqual(stretchOf(13, undefined), { from: 0, loop: [0, 13] });
  assert.deepEqual(stretchOf(170, [90, 95]), { from: 0, loop: [90, 95] });
  assert.deepEqual(stretchOf(LONGEST_S, [90, 95]), { from: 0, loop: [90, 95] });
});

test("of a long take the stretch around the loop is fetched", () => {
  assert.deepEqual(stretchOf(1500, undefined), { from: 0, loop: [0, LONGEST_S] });
  assert.deepEqual(stretchOf(1500, [700, 720]), { from: 660, loop: [40, 60] });
  assert.deepEqual(stretchOf(1500, [700, 1400]), { from: 660, loop: [40, LONGEST_S] });
});
