import assert from "node:assert/strict";
import { test } from "node:test";
import { MOST_STEPS, record, redo, startHistory, undo } from "../../web/js/session/history.js";
import { createStore, same } from "../../web/js/shared/store.js";

test("undo and redo walk the same way back and forth", () => {
  const done = record(record(startHistory(["a"]), ["b"]), ["c"]);
  assert.deepEqual(undo(done).now, ["b"]);
  assert.deepEqual(undo(undo(undo(done))).now, ["a"]);
  assert.deepEqual(redo(undo(done)), done);
  assert.equal(redo(done), done);
});

test("a new step after undo discards the undone steps", () => {
  const history = record(undo(record(startHistory(1), 2)), 3);
  assert.deepEqual(history, { past: [1], now: 3, future: [] });
});

test("a step without a change does not count, and the oldest are dropped", () => {
  const history = startHistory({ a: 1 });
  assert.equal(record(history, { a: 1 }), history);
  let long = startHistory(0);
  for (let k = 1; k <= MOST_STEPS + 5; k += 1) long = record(long, k);
  assert.equal(long.past.length, MOST_STEPS);
  assert.equal(long.past[0], 5);
});

test("a store calls the listeners of changed fields, once", () => {
  const store = createStore({ a: 1, b: { c: [1] } });
  /** @type {string[]} */
  const calls = [];
  const stop = store.on(["a", "b"], (now, before) => calls.push(`${before.a}>${now.a}`));
  store.set({ b: { c: [1] } });
  store.set({ a: 2, b: { c: [2] } });
  stop();
  store.set({ a: 3 });
  assert.deepEqual(calls, ["1>2"]);
});

test("same means the same as JSON", () => {
  assert.ok(same({ a: [1, { b: null }] }, { a: [1, { b: null }] }));
  for (const [a, b] of [
    [{ a: 1 }, { a: 1, b: undefined }],
    [[1], { 0: 1 }],
    [null, {}],
    [1, "1"],
    [
      [1, 2],
      [2, 1],
    ],
  ])
    assert.ok(!same(a, b));
});
