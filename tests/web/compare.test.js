import assert from "node:assert/strict";
import { test } from "node:test";
import { changeSlot, dropSlot, hearSlot, keepSlot, MOST, slotInWords, stemEdits, withEdit } from "../../web/js/pure/compare.js";

const slot = (/** @type {object} */ change = {}) => ({ version: "v", edits: [], position: "1", knobs: { tone: 10 }, switches: {}, ...change });
const start = () => ({ slots: [slot()], current: 0 });

test("a kept sound stays as it was while the heard one changes", () => {
  const all = changeSlot(keepSlot(start()), { position: "4", knobs: { tone: 2 } });
  assert.equal(all.current, 0);
  assert.deepEqual(all.slots.map(({ position }) => position), ["4", "1"]);
  assert.deepEqual(all.slots[1].knobs, { tone: 10 });
});

test("a change touches slots and nothing else of the state", () => {
  const state = { ...start(), check: null, output: 1 };
  assert.deepEqual(Object.keys(changeSlot(state, { position: "2" })).sort(), ["current", "slots"]);
});

test("there are at most four", () => {
  let all = start();
  for (let k = 0; k < 9; k += 1) all = keepSlot(all);
  assert.equal(all.slots.length, MOST);
});

test("dropping keeps the heard one where it can, and never drops the last", () => {
  const all = hearSlot(keepSlot(keepSlot(start())), 2);
  assert.equal(dropSlot(all, 0).current, 1);
  assert.equal(dropSlot(all, 2).current, 1);
  assert.equal(dropSlot({ ...all, current: 0 }, 2).current, 0);
  assert.equal(dropSlot(start(), 0).slots.length, 1);
  assert.equal(hearSlot(all, 7).current, 2);
});

test("a slot is told by what sets it apart", () => {
  const a = slot(), b = slot({ position: "4", knobs: { tone: 6.4 }, edits: [{ path: ["parts", "tone_cap", "capacitance"], value: "33 nF" }] });
  assert.equal(slotInWords(b, [a, b]), "4, tone 6.4, tone cap 33 nF");
  assert.equal(slotInWords(a, [a, b]), "1, tone 10.0");
  assert.equal(slotInWords(a, [a]), "1");
});

test("the newest edit of a place wins", () => {
  const path = ["parts", "cap", "capacitance"];
  assert.deepEqual(withEdit([{ path, value: "22 nF" }], { path: [...path], value: "33 nF" }), [{ path, value: "33 nF" }]);
});

test("stems follow what the strings induce, not what the circuit does with it", () => {
  const edit = (/** @type {string[]} */ ...path) => ({ path, value: "1" });
  const heard = [edit("parts", "neck", "at"), edit("parts", "neck", "winding"), edit("instrument", "scale")];
  assert.deepEqual(stemEdits([...heard, edit("parts", "neck", "resistance"), edit("parts", "cap", "capacitance")]), heard);
});
