import assert from "node:assert/strict";
import { test } from "node:test";
import { createOutbox } from "../../web/js/customer/outbox.js";
import { ApiError } from "../../web/js/shared/http.js";

/** @typedef {import("../../web/js/customer/outbox.js").Request} Request */

/** A browser's store. */
function store() {
  /** @type {Map<string, string>} */
  const kept = new Map();
  return {
    getItem: (/** @type {string} */ key) => kept.get(key) ?? null,
    setItem: (/** @type {string} */ key, /** @type {string} */ value) => void kept.set(key, value),
    removeItem: (/** @type {string} */ key) => void kept.delete(key),
    key: (/** @type {number} */ k) => [...kept.keys()][k] ?? null,
    get length() {
      return kept.size;
    },
  };
}

/** A store that is full, or forbidden. */
const full = {
  ...store(),
  length: 0,
  setItem() {
    throw new Error("QuotaExceededError");
  },
};

/**
 * An outbox whose server answers as told, and whose clock a test moves.
 * @param {(request: Request, nth: number) => unknown} answer throws to refuse
 */
function outboxWith(answer, storage = store(), name = "/p/a") {
  /** @type {Request[]} */
  const sent = [];
  /** @type {{act: () => void, seconds: number}[]} */
  const planned = [];
  const outbox = createOutbox({
    name,
    storage,
    send: async (request) => {
      sent.push(request);
      return answer(request, sent.length);
    },
    onAnswer: () => {},
    onChange: () => {},
    later: (act, seconds) => planned.push({ act, seconds }),
  });
  return { outbox, sent, planned };
}

const settle = () => new Promise((done) => setTimeout(done, 0));
const note = (/** @type {string} */ text) => /** @type {const} */ ({ kind: "note", number: null, text });
const refusal = (/** @type {number} */ status, where = "number") => {
  throw new ApiError(status, [{ where, got: "9", allowed: "1 to 3" }]);
};
const texts = (/** @type {Request} */ { operations }) =>
  operations.map((one) => (one.kind === "note" ? one.text : one.kind));
const left = (/** @type {{entries: () => {operation: any}[]}} */ outbox) =>
  outbox.entries().map(({ operation }) => operation.text);

test("what is said goes at once, and leaves when the server has it", async () => {
  const { outbox, sent } = outboxWith(() => ({}));
  outbox.add(note("one"));
  assert.equal(outbox.entries().length, 1);
  await settle();
  assert.deepEqual(sent.map(texts), [["one"]]);
  assert.match(sent[0].operations[0].id, /^[\w-]{16}$/);
  assert.equal(outbox.entries().length, 0);
});

test("without a line it stays, survives a reload, and goes in order with the same ids", async () => {
  const kept = store(),
    first = outboxWith(() => refusal(0), kept);
  for (const text of ["one", "two", "three"]) first.outbox.add(note(text));
  await settle();
  const ids = first.outbox.entries().map(({ operation }) => operation.id);
  const { outbox, sent } = outboxWith(() => ({}), kept);
  assert.deepEqual(left(outbox), ["one", "two", "three"]);
  await outbox.flush();
  assert.deepEqual(sent.map(texts), [["one", "two", "three"]]);
  assert.deepEqual(
    sent[0].operations.map(({ id }) => id),
    ids,
  );
  assert.equal(sent[0].device, first.outbox.device, "the same browser");
  assert.equal(outbox.entries().length, 0);
});

test("it tries again after 1, 2, 4 … 60 seconds", async () => {
  const { outbox, planned } = outboxWith(() => refusal(503));
  outbox.add(note("one"));
  await settle();
  for (let k = 0; k < 7; k += 1) {
    planned[k].act();
    await settle();
  }
  assert.deepEqual(
    planned.map(({ seconds }) => seconds),
    [1, 2, 4, 8, 16, 32, 60, 60],
  );
  assert.equal(outbox.entries().length, 1);
});

test("a refused operation says why, and holds up none of the others", async () => {
  const { outbox, sent } = outboxWith(({ operations }) =>
    operations.some((one) => one.kind === "note" && one.text === "bad") ? refusal(422) : {},
  );
  const kept = outbox.flush;
  outbox.add(note("first"));
  for (const text of ["good", "bad", "better"]) outbox.add(note(text));
  await settle();
  await kept();
  assert.deepEqual(sent.map(texts), [["first"], ["good", "bad", "better"], ["good"], ["bad"], ["better"]]);
  assert.deepEqual(left(outbox), ["bad"]);
  assert.match(outbox.entries()[0].why, /cannot be sent/);
  await outbox.flush();
  assert.equal(sent.length, 5, "a refused one is not sent by itself");
  outbox.again(outbox.entries()[0].operation.id);
  await settle();
  assert.equal(sent.length, 6);
  outbox.drop(outbox.entries()[0].operation.id);
  assert.equal(outbox.entries().length, 0);
});

test("a link that ended loses nothing, and is not asked again", async () => {
  for (const [status, where] of /** @type {const} */ ([
    [410, "this link"],
    [404, "this link"],
  ])) {
    const { outbox, sent, planned } = outboxWith(() => refusal(status, where));
    outbox.add(note("one"));
    await settle();
    await outbox.flush();
    assert.equal(sent.length, 1);
    assert.equal(planned.length, 0);
    assert.deepEqual(left(outbox), ["one"]);
    assert.equal(outbox.entries()[0].why, "");
  }
});

test("two tabs of one browser keep what each of them says", () => {
  const kept = store(),
    one = outboxWith(() => refusal(0), kept).outbox,
    other = outboxWith(() => refusal(0), kept).outbox;
  one.add(note("from one"));
  other.add(note("from the other"));
  one.add(note("again"));
  assert.deepEqual(left(one), ["from one", "from the other", "again"]);
  assert.deepEqual(left(other), left(one));
  assert.equal(one.device, other.device);
});

test("another proposal's outbox is another", () => {
  const kept = store();
  outboxWith(() => refusal(0), kept).outbox.add(note("here"));
  assert.deepEqual(left(outboxWith(() => ({}), kept, "/p/ab").outbox), []);
});

test("a browser that keeps nothing says so, and sends all the same", async () => {
  for (const storage of [null, full]) {
    let there = false;
    const { outbox } = outboxWith(() => there || refusal(0), /** @type {any} */ (storage));
    outbox.add(note("one"));
    await settle();
    assert.equal(outbox.keeps(), false);
    assert.deepEqual(left(outbox), ["one"]);
    there = true;
    await outbox.flush();
    assert.deepEqual(left(outbox), []);
  }
});

test("thousands of operations go in requests that the server takes", async () => {
  const kept = store(),
    { outbox } = outboxWith(() => refusal(0), kept);
  for (let k = 0; k < 200; k += 1) outbox.add({ kind: "favourite", number: 1 });
  for (let k = 0; k < 10; k += 1) outbox.add(note("音".repeat(2000)));
  const online = outboxWith(() => ({}), kept);
  await online.outbox.flush();
  const sizes = online.sent.map((one) => new TextEncoder().encode(JSON.stringify(one)).length);
  assert.ok(Math.max(...sizes) < 16 * 1024, `${Math.max(...sizes)} bytes`);
  assert.ok(Math.max(...online.sent.map(({ operations }) => operations.length)) <= 50);
  assert.equal(online.sent.flatMap(({ operations }) => operations).length, 210);
});

test("damaged entries of the store are passed over", () => {
  const kept = store();
  kept.setItem("presolder said /p/a x", "{");
  kept.setItem("presolder said /p/a y", '"text"');
  assert.deepEqual(outboxWith(() => ({}), kept).outbox.entries(), []);
});
