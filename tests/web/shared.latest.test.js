import assert from "node:assert/strict";
import { test } from "node:test";
import { createCache, createTurns, latest } from "../../web/js/shared/latest.js";

test("one at a time, the newest wins, replaced requests are never sent", async () => {
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

test("a failure is reported and does not stop the next", async () => {
  /** @type {string[]} */
  const events = [];
  const refusal = Object.assign(new Error("no"), { name: "ApiError" });
  const ask = latest(
    async (/** @type {boolean} */ fails) => {
      if (fails) throw refusal;
      events.push("done");
    },
    { failed: (error) => events.push(String(error)) },
  );
  await ask(true);
  await ask(false);
  assert.deepEqual(events, ["ApiError: no", "done"]);
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

test("a cache drops the entry unused for longest", () => {
  /** @type {ReturnType<typeof createCache<number>>} */
  const cache = createCache(2);
  cache.set("a", 1);
  cache.set("b", 2);
  cache.get("a");
  cache.set("c", 3);
  assert.deepEqual([cache.get("a"), cache.get("b"), cache.get("c")], [1, undefined, 3]);
});
