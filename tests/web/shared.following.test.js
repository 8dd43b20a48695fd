import assert from "node:assert/strict";
import { test } from "node:test";
import { createFollower } from "../../web/js/shared/following.js";

/**
 * A server of searches: the same question has the same search while that runs, and each search is done after
 * two looks at it.
 */
function startServer() {
  /** @type {Map<string, {state: string, looks: number}>} */
  const searches = new Map();
  /** @type {string[]} */
  const started = [];
  const news = (/** @type {string} */ id) => ({ id, after: 1, has: [], ...searches.get(id) });
  globalThis.fetch = async (address) => {
    const [, id, act] = /searches\/([^/?]+)(\/cancel)?/.exec(String(address)) ?? [];
    const search = searches.get(id);
    if (search && act && search.state === "running") search.state = "cancelled";
    else if (search && !act && search.state === "running") {
      search.looks += 1;
      if (search.looks > 1) search.state = "done";
    }
    return new Response(JSON.stringify(news(id)), { headers: { "Content-Type": "application/json" } });
  };
  /** @param {string} question @param {number} [afterMs] */
  const ask =
    (question, afterMs = 0) =>
    async () => {
      await new Promise((done) => setTimeout(done, afterMs));
      started.push(question);
      if (searches.get(question)?.state !== "running") searches.set(question, { state: "running", looks: 0 });
      return /** @type {any} */ (news(question));
    };
  return { searches, started, ask };
}

function follow() {
  /** @type {string[]} */
  const results = [],
    waits = /** @type {boolean[]} */ ([]);
  const follower = createFollower(
    ({ id, state }) => results.push(`${id} ${state}`),
    (error) => assert.fail(String(error)),
    new AbortController().signal,
    (waiting) => waits.push(waiting),
  );
  return { follower, results, waits };
}

test("a question asked twice at once is answered", async () => {
  const server = startServer(),
    { follower, results, waits } = follow();
  await Promise.all([follower.begin(server.ask("tone", 20)), follower.begin(server.ask("tone"))]);
  assert.equal(results.at(-1), "tone done");
  assert.equal(waits.at(-1), false);
});

test("a newer question is answered, and the search of the older one is stopped", async () => {
  const server = startServer(),
    { follower, results } = follow();
  const first = follower.begin(server.ask("tone", 20));
  await new Promise((done) => setTimeout(done, 5));
  await Promise.all([first, follower.begin(server.ask("volume"))]);
  assert.equal(results.at(-1), "volume done");
  assert.equal(server.searches.get("tone")?.state, "cancelled");
});

test("a search that somebody else has stopped is asked anew", async () => {
  const server = startServer(),
    { follower, results } = follow();
  const ask = server.ask("tone");
  let times = 0;
  await follower.begin(async () => {
    const result = await ask();
    times += 1;
    return times === 1 ? { ...result, state: "cancelled" } : result;
  });
  assert.equal(times, 2);
  assert.equal(results.at(-1), "tone done");
});

test("a search that is stopped again and again is given up", async () => {
  const server = startServer(),
    { follower, results } = follow();
  const ask = server.ask("tone");
  let times = 0;
  await follower.begin(async () => {
    times += 1;
    assert.ok(times < 10, "it asks for ever");
    return { ...(await ask()), state: "cancelled" };
  });
  assert.equal(times, 4);
  assert.deepEqual(results, ["tone cancelled"]);
});

test("a search is stopped even before it has started", async () => {
  const server = startServer(),
    { follower, results, waits } = follow();
  const begun = follower.begin(server.ask("tone", 20));
  follower.stop();
  await begun;
  assert.equal(results.at(-1), "tone cancelled");
  assert.deepEqual(waits, [true, false]);
  assert.deepEqual(server.started, ["tone"]);
});
