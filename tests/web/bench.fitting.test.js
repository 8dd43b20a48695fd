import assert from "node:assert/strict";
import test from "node:test";
import { isFitted } from "../../web/js/bench/fitting.js";

/** A state whose server has answered about some edits. @param {object[]} checked @param {object[]} now */
const state = (checked, now) =>
  /** @type {any} */ ({
    slots: [{ version: "v", edits: now, position: "1", knobs: {}, switches: {} }],
    current: 0,
    before: false,
    check: { ok: true },
    checked: JSON.stringify({ version: "v", edits: checked }),
  });

test("a value asks for nothing new of the setting", () => {
  assert.ok(isFitted(state([], [{ path: ["parts", "tone", "resistance"], value: "250 kΩ" }])));
  assert.ok(isFitted(state([], [{ path: ["parts", "selector", "positions", "2"], value: "neck" }])));
  assert.ok(isFitted(state([], [{ path: ["joints", "2"], value: "[a.b, c.d]" }])));
});

test("a part that has come or gone, another switch, a shaft: the setting waits for the answer", () => {
  for (const edit of [
    { path: ["parts", "tone"], value: "{kind: pot, resistance: 500 kΩ}" },
    { path: ["parts", "tone"], value: null },
    { path: ["parts", "selector", "like"], value: "toggle_on_on" },
    { path: ["parts", "selector", "positions", "2"], value: null },
    { path: ["parts", "split", "ganged"], value: "{part: tone}" },
    { path: ["renamed", "tone"], value: "treble" },
  ]) {
    assert.ok(!isFitted(state([], [edit])), edit.path.join("."));
    assert.ok(isFitted(state([edit], [edit])));
    assert.ok(!isFitted(state([edit], [])), "undone");
  }
});

test("before the first answer nothing is known, and nothing waits", () => {
  assert.ok(isFitted({ ...state([], []), check: null }));
});
