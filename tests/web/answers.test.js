import assert from "node:assert/strict";
import { createHash, createHmac, randomBytes } from "node:crypto";
import { test } from "node:test";
import { inflateRawSync } from "node:zlib";
import { canonicalJson, wellFormed } from "../../web/js/answers/canonical.js";
import { composeAnswer, sealAnswer } from "../../web/js/answers/composing.js";
import { hmacSha256, sha256 } from "../../web/js/answers/sha256.js";

const hex = (bytes) => Buffer.from(bytes).toString("hex");
const SAID = {
  favourites: [3, 1, 3],
  notes: [{ number: null, text: "Grüße \ud800" }],
  wishes: [{ number: 2, knobs: { volume: 7.0000001, tone: 10 } }],
  heard: [{ number: 1, take: "demo:e_slide" }],
  sign: { number: 2, name: "R. Winter" },
};

test("SHA-256 is the standard's: FIPS 180-4's examples, and every length round a block", () => {
  const of = (text) => hex(sha256(new TextEncoder().encode(text)));
  assert.equal(of("abc"), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
  assert.equal(of(""), "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
  for (let n = 0; n < 200; n += 1) {
    const bytes = randomBytes(n);
    assert.equal(hex(sha256(bytes)), createHash("sha256").update(bytes).digest("hex"), `${n} bytes`);
  }
});

test("HMAC is RFC 4231's, with short and long keys", () => {
  const first = hmacSha256(new Uint8Array(20).fill(0x0b), new TextEncoder().encode("Hi There"));
  assert.equal(hex(first), "b0344c61d8db38535ca8afceaf0bf12b881dc200c9833da726e9376c2e32cff7");
  for (const n of [0, 32, 63, 64, 65, 131]) {
    const [key, bytes] = [randomBytes(n), randomBytes(100)];
    assert.equal(hex(hmacSha256(key, bytes)), createHmac("sha256", key).update(bytes).digest("hex"));
  }
});

test("keys are sorted by code points, not by halves of pairs", () => {
  assert.equal(
    canonicalJson({ "\u{1f3b8}": 1, "\uff5e": 2, b: 1, a: [null, 0.5], ab: 0 }),
    '{"a":[null,0.5],"ab":0,"b":1,"\uff5e":2,"\u{1f3b8}":1}',
  );
  assert.equal(wellFormed("a\ud800b"), "a\ufffdb");
});

test("an answer says everything once, in one way", () => {
  const text = composeAnswer(
    { proposal: "p", sent: "s" },
    SAID,
    new Date(0),
    new Uint8Array([0, 1, 2, 3, 4, 255]),
  );
  assert.deepEqual(JSON.parse(text), {
    f: 1,
    p: "p",
    s: "s",
    w: "1970-01-01T00:00:00.000Z",
    fav: [1, 3],
    notes: [[null, "Grüße \ufffd"]],
    wish: [[2, { volume: 7, tone: 10 }]],
    heard: [[1, "demo:e_slide"]],
    sign: { n: 2, name: "R. Winter", agrees: 2 },
    r: "0001020304ff",
  });
});

test("without a compressor the text is longer and says the same", async () => {
  const secret = randomBytes(32);
  const offer = { proposal: "p", sent: "s", secret: secret.toString("base64url") };
  const long = { ...SAID, notes: [{ number: 1, text: "x".repeat(70_000) }] };
  const had = globalThis.CompressionStream;
  try {
    for (const CompressionStream of [had, undefined]) {
      globalThis.CompressionStream = CompressionStream;
      const [head, body, seal] = (await sealAnswer(offer, long)).split(".");
      const sum = createHmac("sha256", secret).update(`${head}.${body}`).digest().subarray(0, 16);
      assert.equal(seal, sum.toString("base64url"));
      const content = JSON.parse(inflateRawSync(Buffer.from(body, "base64url")).toString());
      assert.deepEqual(content.notes, [[1, "x".repeat(70_000)]]);
    }
  } finally {
    globalThis.CompressionStream = had;
  }
});
