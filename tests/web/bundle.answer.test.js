import assert from "node:assert/strict";
import { createHmac, createHash } from "node:crypto";
import { test } from "node:test";
import { deflateRawSync, inflateRawSync } from "node:zlib";

Object.assign(globalThis, { window: globalThis });
const { fileSource } = await import("../../web/js/bundle/source.js");

const OLD = {
  id: "before",
  number: 1,
  device: "phone",
  place: 1,
  text: "before",
  when: "2026-03-01T00:00:00Z",
  replies: [],
};
const item = (/** @type {number} */ number) => ({
  number,
  label: `Sound ${number}`,
  words: [],
  stands: [],
  brightness: 0,
  picture: null,
  clips: {},
});
const wiring = (/** @type {number} */ number, /** @type {number[]} */ sounds) => ({
  number,
  name: `Wiring ${number}`,
  price: "",
  when_ready: "",
  bought: [],
  kept: [],
  soldered: [],
  sounds,
});
const SECRET = Buffer.alloc(32);
const newSource = () =>
  fileSource({
    id: "p",
    offer: {
      title: "Two",
      created: "",
      expires: "",
      takes: [],
      items: [item(1), item(2)],
      wirings: [wiring(1, [1]), wiring(2, [2])],
      favourites: [],
      comments: [OLD],
      workshop: null,
      statement: "",
      signoff: null,
      ready: 1,
      failed: 0,
    },
    folder: null,
    voices: {},
    guard: "",
    convolver: "",
    answer: { proposal: "p", sent: "s", secret: SECRET.toString("base64url") },
  });

test("an answer holds what was done in the file, not what was there before", async () => {
  const source = newSource(),
    { answer } = source;
  assert.ok(answer && source.signOff);
  /** @type {import("../../web/js/customer/words.js").Offer | undefined} */
  let shown;
  source.onOffer((offer) => {
    shown = offer;
  });
  source.say({ kind: "favourite", number: 1 });
  source.say({ kind: "favourite", number: 2 });
  source.say({ kind: "unfavourite", number: 1, seen: 0 });
  source.say({ kind: "note", number: null, text: "after" });
  source.say({ kind: "wish", number: 1, knobs: { tone: 6 } });
  source.say({ kind: "wish", number: 2, knobs: { tone: 7 } });
  source.say({ kind: "unwish", about: shown?.wishes[1].id ?? "" });
  assert.deepEqual(shown?.favourites, [2]);
  assert.deepEqual(
    shown?.comments.map(({ text }) => text),
    ["before", "after"],
  );
  source.noteHeard(1, "take", "clean");
  source.noteHeard(1, "take", "clean");
  await source.signOff({ wiring: 2, name: "R. Winter", date: "2026-03-02" });
  const said = answer.said();
  assert.deepEqual(said.favourites, [2]);
  assert.deepEqual(
    said.notes.map(({ text }) => text),
    ["after"],
  );
  assert.deepEqual(
    said.wishes.map(({ number, knobs }) => [number, knobs]),
    [[1, { tone: 6 }]],
  );
  assert.deepEqual(said.heard, [{ number: 1, take: "take" }]);
  assert.equal(said.sign?.name, "R. Winter");
  assert.equal((await source.getOffer()).signoff?.label, "Wiring 2");
  answer.unsign();
  assert.equal(answer.said().sign, null);
  assert.equal((await source.getOffer()).signoff, null);
});

test("the sealed text stays the same until something changes", async () => {
  const { answer, say } = newSource();
  assert.ok(answer);
  const first = await answer.seal();
  assert.match(first, /^presolder1\./);
  assert.equal(await answer.seal(), first);
  say({ kind: "wish", number: 1, knobs: { tone: 5 } });
  assert.notEqual(await answer.seal(), first);
});

/** Seal as the workshop does. @param {object} content @param {Buffer} secret */
function receiptOf(content, secret = SECRET) {
  const body = `receipt1.${deflateRawSync(JSON.stringify(content)).toString("base64url")}`,
    seal = createHmac("sha256", secret).update(body).digest().subarray(0, 16);
  return `${body}.${seal.toString("base64url")}`;
}

test("a receipt is for the answer as it stands, until something is written or marked", async () => {
  const source = newSource(),
    { answer } = source;
  assert.ok(answer && source.signOff);
  await source.signOff({ wiring: 2, name: "R. Winter", date: "2026-03-02" });
  const text = inflateRawSync(Buffer.from((await answer.seal()).split(".")[1], "base64url")),
    a = createHash("sha256").update(text).digest("hex");
  const who = { name: "R. Winter", date: "2026-03-02", when: "2026-03-03T00:00:00Z" },
    sign = { of: "wiring", n: 2, label: "Wiring 2", ...who, sha256: "ff" };
  const said = { f: 1, p: "p", a, w: "2026-03-03T00:00:00Z", state: "signed", sign };
  for (const [wrong, why] of /** @type {[string, RegExp][]} */ ([
    [receiptOf({ ...said, p: "q" }), /another file/],
    [receiptOf(said, Buffer.alloc(32, 1)), /another file/],
    [await answer.seal(), /This is an answer/],
    ["a text", /no receipt/],
  ]))
    await assert.rejects(answer.bring(wrong), why);
  assert.equal(await answer.receipt(), null);
  assert.equal((await source.getOffer()).signoff?.sha256, "");
  await answer.bring(receiptOf(said));
  assert.equal((await source.getOffer()).signoff?.sha256, "ff");
  source.noteHeard(1, "take", "clean");
  assert.equal((await answer.receipt())?.isLast, true);
  source.say({ kind: "favourite", number: 2 });
  assert.equal((await answer.receipt())?.isLast, false);
});
