import assert from "node:assert/strict";
import { test } from "node:test";
import { createCache, createTurns, latest } from "../../web/js/shared/latest.js";

test("one at a time, the newest wins, what was overtaken is never asked", async () => {
  /** @type {number[]} */
  const asked = [];
  let at = 0,
    most = 0;
  const ask = latest(async (/** @type {number} */ n) => {
    most = Math.max(most, (at += 1));
    asked.push(n);
    await new Promise((done) => setTimeout(done, 2));
    at -= 1;
  });
  ask(1);
  ask(2);
  ask(3);
  await ask(4);
  assert.deepEqual(asked, [1, 4]);
  assert.equal(most, 1);
});

test("a failure is told and does not stop the next", async () => {
  /** @type {string[]} */
  const told = [];
  const refusal = Object.assign(new Error("no"), { name: "ApiError" });
  const ask = latest(
    async (/** @type {boolean} */ fails) => {
      if (fails) throw refusal;
      told.push("done");
    },
    { failed: (error) => told.push(String(error)) },
  );
  await ask(true);
  await ask(false);
  assert.deepEqual(told, ["ApiError: no", "done"]);
});

test("of requests side by side only the newest counts, and none after a drop", () => {
  const turns = createTurns();
  const first = turns.begin();
  assert.equal(first(), true);
  const second = turns.begin();
  assert.deepEqual([first(), second()], [false, true]);
  turns.drop();
  assert.deepEqual([first(), second()], [false, false]);
});

test("a cache forgets what was used longest ago", () => {
  /** @type {ReturnType<typeof createCache<number>>} */
  const cache = createCache(2);
  cache.set("a", 1);
  cache.set("b", 2);
  cache.get("a");
  cache.set("c", 3);
  assert.deepEqual([cache.get("a"), cache.get("b"), cache.get("c")], [1, undefined, 3]);
});
