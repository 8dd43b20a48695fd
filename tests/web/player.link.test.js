import assert from "node:assert/strict";
import test from "node:test";

import { createLink } from "../../web/js/player/link.js";

globalThis.window = /** @type {any} */ (globalThis);
const tick = () => new Promise((resolve) => setTimeout(resolve, 0));

/** A frame with a number. @param {number} id */
const frameOf = (id) => /** @type {ArrayBuffer} */ (Float64Array.of(id, 0, 0, 1, 0, 0, 1, NaN).buffer);

/** A server played by a test. */
function stage() {
  /** @type {any} */
  const it = { sent: [], single: [], frames: [], states: [], problems: [], open: false, failing: null };
  const api = {
    openLive(/** @type {any} */ on) {
      it.on = on;
      return {
        send(/** @type {any} */ ask) {
          if (it.open) it.sent.push(ask);
          return it.open;
        },
        close() {
          it.closed = true;
        },
      };
    },
    async getFilters(/** @type {any} */ draft, /** @type {any} */ setting) {
      it.single.push(setting);
      await tick();
      if (it.failing) throw it.failing;
      return frameOf(0);
    },
  };
  it.link = createLink({
    api,
    onFrame: (frame, id, wanted) => it.frames.push([id, wanted.setting.position]),
    onProblems: (id, problems) => it.problems.push([id, problems]),
    onState: (state) => it.states.push(state),
  });
  it.connect = (/** @type {boolean} */ open) => {
    it.open = open;
    it.on.open(open);
  };
  it.ask = (/** @type {string} */ position) =>
    it.link.ask({ draft: { version: "v", edits: [] }, setting: { position, knobs: {}, switches: {} } });
  return it;
}

test("one request is in progress at a time, and the newest of the others follows", () => {
  const it = stage();
  it.connect(true);
  for (const position of ["a", "b", "c", "d"]) it.ask(position);
  assert.deepEqual(
    it.sent.map((/** @type {any} */ s) => s.setting.position),
    ["a"],
  );
  it.on.frame(frameOf(1));
  assert.deepEqual(
    it.sent.map((/** @type {any} */ s) => s.setting.position),
    ["a", "d"],
  );
  it.on.frame(frameOf(4));
  assert.deepEqual(it.frames, [
    [1, "a"],
    [4, "d"],
  ]);
  assert.deepEqual(it.states, ["live"]);
  it.link.close();
});

test("a frame with its level comes again under the same number; an older one does not pass", () => {
  const it = stage();
  it.connect(true);
  it.ask("a");
  it.on.frame(frameOf(1));
  it.on.frame(frameOf(1));
  it.ask("b");
  it.on.frame(frameOf(2));
  it.on.frame(frameOf(1));
  assert.deepEqual(
    it.frames.map((/** @type {any} */ [id]) => id),
    [1, 1, 2],
  );
  it.link.close();
});

test("single requests replace a missing connection, one at a time, and the newest arrives", async () => {
  const it = stage();
  for (const position of ["a", "b", "c"]) it.ask(position);
  for (let i = 0; i < 10; i++) await tick();
  assert.deepEqual(
    it.single.map((/** @type {any} */ s) => s.position),
    ["a", "c"],
  );
  assert.deepEqual(it.frames, [
    [1, "a"],
    [3, "c"],
  ]);
  assert.deepEqual(it.states, ["fallback"]);
  it.link.close();
});

test("after a break the newest request is sent again", () => {
  const it = stage();
  it.connect(true);
  it.ask("a");
  it.ask("b");
  it.connect(false);
  it.sent.length = 0;
  it.connect(true);
  assert.deepEqual(
    it.sent.map((/** @type {any} */ s) => [s.id, s.setting.position]),
    [[2, "b"]],
  );
  it.link.close();
});

test("a refusal is reported and does not stop the next requests", async () => {
  const it = stage();
  it.failing = Object.assign(new Error(), { status: 422, problems: [{ where: "x" }] });
  it.ask("a");
  for (let i = 0; i < 5; i++) await tick();
  assert.deepEqual(it.problems, [[1, [{ where: "x" }]]]);
  it.connect(true);
  it.on.problems(1, [{ where: "y" }]);
  it.ask("b");
  assert.equal(it.sent.at(-1).setting.position, "b");
  it.link.close();
  assert.ok(it.closed);
});

test("a missing server is reported and tried again", async () => {
  const it = stage();
  it.failing = Object.assign(new Error(), { status: 0, problems: [] });
  it.ask("a");
  for (let i = 0; i < 5; i++) await tick();
  assert.deepEqual(it.states, ["offline"]);
  it.failing = null;
  await new Promise((resolve) => setTimeout(resolve, 1100));
  assert.deepEqual(it.states, ["offline", "fallback"]);
  assert.deepEqual(it.frames, [[1, "a"]]);
  it.link.close();
});

test("a slow level does not delay the filters, and follows", async () => {
  /** @type {[string | undefined, (frame: ArrayBuffer) => void][]} */
  const asked = [];
  /** @type {number[]} */
  const gains = [];
  const api = {
    openLive: () => ({ send: () => false, close() {} }),
    getFilters: (/** @type {any} */ _d, /** @type {any} */ _s, /** @type {string | undefined} */ take) =>
      new Promise((/** @type {(frame: ArrayBuffer) => void} */ resolve) => {
        if (take) asked.push([take, resolve]);
        else resolve(frameOf(0));
      }),
  };
  const link = createLink({ api, onFrame: (frame) => gains.push(new Float64Array(frame)[7]) });
  link.ask({
    draft: { version: "v", edits: [] },
    setting: { position: "1", knobs: {}, switches: {} },
    take: "t",
  });
  await new Promise((resolve) => setTimeout(resolve, 500));
  assert.deepEqual(gains, [NaN]);
  link.ask({
    draft: { version: "v", edits: [] },
    setting: { position: "2", knobs: {}, switches: {} },
    take: "t",
  });
  await tick();
  assert.deepEqual([gains.length, asked.length], [2, 1]); // at once, though the level is still under way
  const late = frameOf(0);
  new Float64Array(late)[7] = -3;
  asked[0][1](late.slice(0));
  await tick();
  assert.equal(asked.length, 2); // for the newest
  asked[1][1](late.slice(0));
  await tick();
  assert.deepEqual(gains, [NaN, NaN, -3]);
  link.close();
});
