import assert from "node:assert/strict";
import { test } from "node:test";
import { deflateRawSync } from "node:zlib";

const PART = 6;
/** @type {any[]} Scripts that the page has put in, in order. */
const scripts = [];
/** @type {Record<string, string>} Texts of elements of the page, by id. */
const elements = {};

Object.assign(globalThis, {
  window: globalThis,
  document: {
    readyState: "complete",
    getElementById: (/** @type {string} */ id) => (id in elements ? { textContent: elements[id] } : null),
    createElement: () => ({ remove() {} }),
    head: { append: (/** @type {any} */ script) => scripts.push(script) },
  },
});
const { createPieces } = await import("../../web/js/bundle/pieces.js");

const settled = () => new Promise((resolve) => setTimeout(resolve));
const base64 = (/** @type {string | Buffer} */ text) => Buffer.from(text).toString("base64");
const asked = () => scripts.map(({ src }) => src);

/** A folder's pieces; its scripts come when they are sent for. @param {string} first */
function folderPieces(first = "none") {
  scripts.length = 0;
  return createPieces({ path: "sounds", part: PART, first: { name: first, seconds: 3 } });
}

/** The script asked for last arrives. @param {string | Buffer} text */
async function send(text) {
  const script = scripts.at(-1);
  /** @type {any} */ (globalThis).presolderPiece(
    script.src.slice("sounds/".length, -".js".length),
    base64(text),
  );
  script.onload();
  await settled();
}

/** Read a piece, as a line does. @param {any} pieces @param {string} name @param {number} from */
function read(pieces, name, from = 0) {
  const stop = new AbortController(),
    got = /** @type {{text: string, at: number}[]} */ ([]);
  const onPiece = (/** @type {Uint8Array} */ bytes, /** @type {number} */ at) =>
    got.push({ text: Buffer.from(bytes).toString(), at });
  const done = pieces.readFile(name, { from, signal: stop.signal, onPiece });
  done.catch(() => undefined);
  return { stop, got, done };
}

test("a piece comes part by part until one is not whole", async () => {
  const { got, done } = read(folderPieces(), "stems");
  await send("abcdef");
  await send("ghijkl");
  await send("");
  await done;
  assert.deepEqual(asked(), ["sounds/stems.js", "sounds/stems.1.js", "sounds/stems.2.js"]);
  assert.deepEqual(got, [
    { text: "abcdef", at: 0 },
    { text: "ghijkl", at: 6 },
    { text: "", at: 12 },
  ]);
});

test("reading ends at once when it is stopped, and goes on without loading anything twice", async () => {
  const pieces = folderPieces(),
    first = read(pieces, "stems");
  await send("abcdef");
  first.stop.abort();
  await assert.rejects(first.done, { name: "AbortError" });
  await send("ghi"); // it was under way
  const second = read(pieces, "stems", 6);
  await second.done;
  assert.deepEqual(second.got, [{ text: "ghi", at: 6 }]);
  assert.deepEqual(asked(), ["sounds/stems.js", "sounds/stems.1.js"]);
});

test("a part that did not come is asked for again", async () => {
  const pieces = folderPieces(),
    first = read(pieces, "stems");
  scripts[0].onerror();
  await assert.rejects(first.done, /stems\.js could not be loaded/);
  const second = read(pieces, "stems");
  await send("abc");
  await second.done;
  assert.deepEqual(asked(), ["sounds/stems.js", "sounds/stems.js"]);
});

test("the first sound begins in the page, and texts wait until it is whole", async () => {
  elements["piece-head"] = base64("intro ");
  const pieces = folderPieces("clip"),
    { got, done } = read(pieces, "clip"),
    text = pieces.getText("picture");
  await settled();
  assert.deepEqual(asked(), ["sounds/clip.js"]);
  await send("the rest of it");
  await done;
  assert.deepEqual(got, [
    { text: "intro ", at: 0 },
    { text: "the rest of it", at: 6 },
  ]);
  await settled();
  const deflated = deflateRawSync("<svg/>");
  await send(deflated.subarray(0, PART));
  await send(deflated.subarray(PART));
  assert.equal(await text, "<svg/>");
});

test("a page without a folder holds its pieces whole", async () => {
  elements["piece-clip"] = base64("a longer text than a part");
  const pieces = createPieces(null),
    { got, done } = read(pieces, "clip");
  await done;
  assert.deepEqual(got, [{ text: "a longer text than a part", at: 0 }]);
  assert.equal(pieces.getHead("clip"), null);
});
