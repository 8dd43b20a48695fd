import assert from "node:assert/strict";
import test from "node:test";

import { AHEAD, KNOBS, createLine } from "../../web/js/customer/line.js";

const PIECES = 4;

/** A reader whose pieces come when they are sent for, and what it was asked. */
function reader() {
  /** @type {string[]} */
  const asked = [];
  /** @type {any} */
  let reading = null;
  return {
    asked,
    /** @param {string} file @param {any} how */
    read(file, { from, signal, onPiece }) {
      asked.push(`${file} ${from}`);
      return new Promise((resolve, reject) => {
        const mine = { file, at: from, onPiece, resolve, reject };
        reading = mine;
        signal.addEventListener("abort", () => reject(new DOMException("stopped", "AbortError")));
      });
    },
    /** Send a piece of what is read; the last one ends it. */
    async send() {
      reading.onPiece(new Uint8Array([reading.at]), reading.at, PIECES);
      reading.at += 1;
      if (reading.at === PIECES) reading.resolve();
      await settled();
    },
    async fail() {
      reading.reject(new Error("no connection"));
      await settled();
    },
  };
}

const settled = () => new Promise((resolve) => setTimeout(resolve));
const options = { now: () => 0, isKept: () => false };

test("one file comes at a time, those for the knobs before those ahead", async () => {
  const { read, asked, send } = reader(),
    line = createLine(read, options);
  const files = [line.get("a", AHEAD), line.get("b", AHEAD), line.get("stems", KNOBS)];
  await settled();
  for (let k = 0; k < 3 * PIECES; k++) await send();
  assert.deepEqual(asked, ["a 0", "stems 0", "a 0", "b 0"]);
  for (const bytes of await Promise.all(files)) assert.deepEqual([...new Uint8Array(bytes)], [0, 1, 2, 3]);
});

test("what was tapped interrupts, and the other goes on where it stood", async () => {
  const { read, asked, send } = reader(),
    line = createLine(read, options);
  /** @type {number[]} */
  const progress = [];
  const stems = line.get("stems", KNOBS, (bytes) => progress.push(bytes)),
    tapped = line.get("b", AHEAD);
  await settled();
  await send();
  await send();
  line.prefer(["b", "b.other"]);
  await settled();
  for (let k = 0; k < PIECES + 2; k++) await send();
  assert.deepEqual(asked, ["stems 0", "b 0", "stems 2"]);
  assert.deepEqual(progress, [1, 2, 3, 4]);
  assert.deepEqual([...new Uint8Array(await stems)], [0, 1, 2, 3]);
  await tapped;
});

test("what is under way is not interrupted by what is needed as much", async () => {
  const { read, asked, send } = reader(),
    line = createLine(read, options);
  const files = [line.get("a", KNOBS), line.get("b", KNOBS)];
  await settled();
  for (let k = 0; k < 2 * PIECES; k++) await send();
  await Promise.all(files);
  assert.deepEqual(asked, ["a 0", "b 0"]);
});

test("a file that fails is told, and the next one comes", async () => {
  const { read, asked, send, fail } = reader(),
    line = createLine(read, options);
  const failing = line.get("a", AHEAD),
    next = line.get("b", AHEAD);
  failing.catch(() => undefined);
  await settled();
  await fail();
  await assert.rejects(failing, /no connection/);
  for (let k = 0; k < PIECES; k++) await send();
  await next;
  assert.deepEqual(asked, ["a 0", "b 0"]);
});

test("a line is fast by what came over it, not by what the browser had kept", async () => {
  const bytes = 90_000;
  for (const [ms, kept, fast] of /** @type {[number, boolean, boolean][]} */ ([
    [200, false, true],
    [2000, false, false],
    [1, true, false],
  ])) {
    let clock = 0;
    const line = createLine(
      async (_, { onPiece }) => {
        clock += ms;
        onPiece(new Uint8Array(bytes), 0, bytes);
      },
      { now: () => clock, isKept: () => kept },
    );
    assert.equal(line.isFast(), false, "not known yet");
    await line.get("a", AHEAD);
    assert.equal(line.isFast(), fast, `${bytes} bytes in ${ms} ms`);
  }
});
