import assert from "node:assert/strict";
import test from "node:test";
import { stepInWords, withStep } from "../../web/js/session/names.js";

const one = [{ path: ["joints", "2"], value: "[volume.2, output.tip]" }];

test("a step is called what was done, forwards and back; another by its edits", () => {
  const names = withStep({}, "v", [], one, "Soldered volume.2 to output.tip");
  assert.equal(stepInWords(names, "v", one, []), "Soldered volume.2 to output.tip");
  assert.equal(stepInWords(names, "v", [], one), "Soldered volume.2 to output.tip");
  assert.equal(stepInWords(names, "w", [], one), "joint 3");
});
