import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { test } from "node:test";
import { signedAlready, whyNot } from "../../web/js/customer/refusals.js";
import { ApiError } from "../../web/js/shared/http.js";

const DEEDS = /** @type {const} */ (["mark", "note", "sign", "turn"]);
const refused = (/** @type {number} */ status, where = "comments") =>
  new ApiError(status, [{ where, got: "300 already", allowed: "up to 300", hint: "" }]);

test("every refusal that the server has is told in plain words, without the server's own", () => {
  const table = readFileSync(new URL("../../server/refusals.py", import.meta.url), "utf8");
  const statuses = [...table.matchAll(/^ {4}\w+: (\d{3}),$/gm)].map(([, status]) => Number(status));
  assert.ok(statuses.length >= 9);
  for (const status of [0, 500, ...statuses.filter((one) => one !== 401)]) {
    for (const deed of DEEDS) {
      const said = whyNot(refused(status), deed);
      assert.match(said, /^[a-z].*\.$/);
      assert.doesNotMatch(said, /300|allowed|got |comments|page or this browser/, `${status} ${deed}`);
    }
  }
});

test("a note too many and a sound that is not ready are no quarrel with another reader", () => {
  assert.match(whyNot(refused(409), "note"), /as many notes/);
  assert.match(whyNot(refused(409, "this sound"), "sign"), /still being prepared/);
  assert.match(whyNot(refused(409), "mark"), /faster/);
});

test("a sound that came meanwhile is to be heard before it is signed for", () => {
  assert.match(whyNot(refused(409, "sounds"), "sign"), /Listen to it first/);
  assert.doesNotMatch(whyNot(refused(422, "sounds"), "sign"), /Listen/);
});

test("the field that is wrong is named", () => {
  assert.match(whyNot(refused(422, "date"), "sign"), /must be today's/);
  assert.match(whyNot(refused(422, "name"), "sign"), /^the name/);
  assert.match(whyNot(refused(422, "text"), "note"), /cannot be sent/);
});

test("a failure of the page is not blamed on the workshop", () => {
  assert.match(whyNot(new TypeError("x is undefined"), "turn"), /this browser failed/);
  assert.doesNotMatch(whyNot(new TypeError("x is undefined"), "turn"), /undefined/);
});

test("who signed is said with the sound", () => {
  assert.equal(
    signedAlready({ name: "A. First", label: "Outer coils" }),
    "A. First has signed already, for “Outer coils”. Talk to the workshop if you want something else.",
  );
});
