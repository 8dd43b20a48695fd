import assert from "node:assert/strict";
import { afterEach, test } from "node:test";
import { takeToPlay } from "../../web/js/session/takes.js";
import { examineTakes } from "../../web/js/shared/lists.js";
import { takeChoice, takeLine } from "../../web/js/shared/words.js";
import { stretchOf } from "../../web/js/player/windows.js";

/** @import {Take} from "../../web/js/shared/types.js" */

/** @param {string} id @param {Partial<Take>} [more] @returns {Take} */
const take = (id, more = {}) => ({
  id,
  name: id.toUpperCase(),
  kind: "mono",
  seconds: null,
  coil_places: "",
  warnings: [],
  state: "waiting",
  problems: [],
  ...more,
});
const problem = {
  where: "a.yaml:4: audio",
  got: "no such file",
  allowed: "a sound file that exists",
  hint: "",
};
const fetched = globalThis.fetch;
afterEach(() => {
  globalThis.fetch = fetched;
});

test("the take that was chosen is kept; else the first that may be played", () => {
  const takes = [take("a", { state: "broken" }), take("b"), take("c")];
  assert.equal(takeToPlay(takes, "c"), "c");
  assert.equal(takeToPlay(takes, "a"), "a");
  assert.equal(takeToPlay(takes, "gone"), "b");
  assert.equal(takeToPlay(takes.slice(0, 1), ""), "a");
  assert.equal(takeToPlay([], "a"), "");
});

test("a take's line says what is known of it", () => {
  assert.match(takeLine(take("a")), /being examined$/);
  assert.match(takeLine(take("a", { state: "ready", seconds: 2.5 })), /2\.5/);
  const broken = take("a", { state: "broken", problems: [problem] });
  assert.match(takeLine(broken), /^cannot be used: .*no such file/);
  assert.equal(takeChoice(broken), "A (cannot be used)");
  assert.equal(takeChoice(take("a")), "A");
});

test("takes are examined one after another, the chosen one first, and each once in a round", async () => {
  let takes = [take("a"), take("done", { state: "ready", seconds: 1 }), take("b"), take("c")],
    chosen = "c",
    running = 0;
  /** @type {string[]} */
  const asked = [];
  const over = new AbortController();
  globalThis.fetch = async (input) => {
    const id = String(input).split("/").pop() ?? "";
    asked.push(id);
    running += 1;
    assert.equal(running, 1);
    await new Promise((done) => setTimeout(done, 1));
    running -= 1;
    const row = id === "a" ? take("a") : take(id, { state: "ready", seconds: 2 }); // a hangs in the server
    return new Response(JSON.stringify(row), { headers: { "content-type": "application/json" } });
  };
  const seen = examineTakes({
    takes: () => takes,
    chosen: () => chosen,
    found: (row) => {
      takes = takes.map((one) => (one.id === row.id ? row : one));
      if (row.id === "c") chosen = "a";
      if (row.id === "b") over.abort();
    },
    signal: over.signal,
  });
  await seen;
  assert.deepEqual(asked, ["c", "a", "b"]);
  assert.deepEqual(
    takes.map(({ state }) => state),
    ["waiting", "ready", "ready", "ready"],
  );
});

test("a remembered loop far into a long take finds its part before the take's length is known", () => {
  assert.deepEqual(stretchOf(0, [250, 260]), stretchOf(400, [250, 260]));
  assert.deepEqual(stretchOf(0, [1, 2]), { from: 0, loop: [1, 2] });
});
