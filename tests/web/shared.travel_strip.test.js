import assert from "node:assert/strict";
import { test } from "node:test";
import { snapped } from "../../web/js/shared/travel_strip.js";

test("a dragged knob falls into its click, and only where there is one", () => {
  const values = [4.6, 4.7, 4.9, 5, 5.2, 5.3, 5.4];
  assert.deepEqual(
    values.map((value) => snapped(value, true)),
    [4.6, 5, 5, 5, 5, 5, 5.4],
  );
  assert.deepEqual(
    values.map((value) => snapped(value, false)),
    values,
  );
});
