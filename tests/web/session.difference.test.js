/** What a version changed, in words. */

import assert from "node:assert/strict";
import { test } from "node:test";
import { differenceLines } from "../../web/js/session/difference.js";

test("what is taken out comes first, then what is new", () => {
  const none = { svg: "", solder: [], unsolder: [], added: [], removed: [], changed: {} };
  assert.deepEqual(differenceLines(none), []);
  const lines = differenceLines({
    ...none,
    added: ["drain"],
    removed: ["tone"],
    changed: { cap: ["capacitor, 22 nF", "capacitor, 47 nF"] },
    solder: ["drain a to volume 3"],
    unsolder: ["tone 2 to volume 3"],
  });
  assert.deepEqual(lines, [
    "Take out tone.",
    "New part: drain.",
    "cap: capacitor, 22 nF; now capacitor, 47 nF.",
    "Unsolder tone 2 to volume 3.",
    "Solder drain a to volume 3.",
  ]);
});
