import assert from "node:assert/strict";
import { test } from "node:test";
import {
  usesNumbers,
  changeSlot,
  dropSlot,
  hearSlot,
  keepSlot,
  listNames,
  MOST,
  placeInWords,
  slotInWords,
  stemEdits,
  withEdit,
} from "../../web/js/session/compare.js";
import { stepInWords } from "../../web/js/session/names.js";

const slot = (/** @type {object} */ change = {}) => ({
  version: "v",
  edits: [],
  position: "1",
  knobs: { tone: 10 },
  switches: {},
  ...change,
});
const start = () => ({ slots: [slot()], current: 0 });

test("a kept sound stays unchanged while the playing one changes", () => {
  const all = changeSlot(keepSlot(start()), { position: "4", knobs: { tone: 2 } });
  assert.equal(all.current, 0);
  assert.deepEqual(
    all.slots.map(({ position }) => position),
    ["4", "1"],
  );
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

test("dropping keeps the playing one where it can, and never drops the last", () => {
  const all = hearSlot(keepSlot(keepSlot(start())), 2);
  assert.equal(dropSlot(all, 0).current, 1);
  assert.equal(dropSlot(all, 2).current, 1);
  assert.equal(dropSlot({ ...all, current: 0 }, 2).current, 0);
  assert.equal(dropSlot({ ...all, current: 0 }, 0).current, 0);
  assert.equal(dropSlot({ ...all, current: 1 }, 1).current, 1); // the next one takes its place
  assert.equal(dropSlot(start(), 0).slots.length, 1);
  assert.equal(hearSlot(all, 7).current, 2);
});

test("a slot is named by its differences", () => {
  const a = slot(),
    b = slot({
      position: "4",
      knobs: { tone: 6.4 },
      edits: [{ path: ["parts", "tone_cap", "capacitance"], value: "33 nF" }],
    });
  const nameEdit = (/** @type {string} */ version, /** @type {{path: string[]}} */ { path }) =>
    `${version} ${path[1]} 33 nF`;
  assert.equal(slotInWords(b, [a, b], undefined, nameEdit), "4, tone 6.4, v tone_cap 33 nF");
  assert.equal(slotInWords(b, [a, b]), "4, tone 6.4, tone cap capacitance", "before the server has named it");
  assert.equal(slotInWords(a, [a, b]), "1, tone 10.0");
  assert.equal(slotInWords(a, [a]), "1");
});

test("names of edits are listed once each, three at most", () => {
  assert.equal(listNames(["tone 1 MΩ", "", "tone 1 MΩ", "drain taken out"]), "tone 1 MΩ, drain taken out");
  assert.equal(listNames(["a", "b", "c", "d", "e"]), "a, b and 3 more edits");
  assert.equal(listNames([""]), "");
});

test("a step back is named by what it takes away, a step forward by what it brings", () => {
  const path = ["parts", "tone_cap", "capacitance"],
    edit = { path, value: "1 nF" },
    names = { [JSON.stringify(["v", path, "1 nF"])]: "tone capacitor 1 nF" };
  assert.equal(stepInWords(names, "v", [edit], []), "tone capacitor 1 nF");
  assert.equal(stepInWords(names, "v", [], [edit]), "tone capacitor 1 nF");
  assert.equal(stepInWords(names, "other", [], [edit]), "tone cap capacitance");
  assert.equal(stepInWords(names, "v", [edit], [{ path, value: "2 nF" }]), "tone capacitor 1 nF");
});

test("the newest edit of a place wins", () => {
  const path = ["parts", "cap", "capacitance"];
  assert.deepEqual(withEdit([{ path, value: "22 nF" }], { path: [...path], value: "33 nF" }), [
    { path, value: "33 nF" },
  ]);
});

test("stems depend on the strings and coils, not on the circuit", () => {
  const edit = (/** @type {string[]} */ ...path) => ({ path, value: "1" });
  const heard = [edit("parts", "neck", "at"), edit("parts", "neck", "winding"), edit("instrument", "scale")];
  assert.deepEqual(
    stemEdits([...heard, edit("parts", "neck", "resistance"), edit("parts", "cap", "capacitance")]),
    heard,
  );
});

test("a coil that comes, goes or is renamed changes the stems; a pot does not", () => {
  const heard = [
    { path: ["renamed", "neck"], value: "upper" },
    { path: ["parts", "bridge"], value: "{kind: coil, like: narrow_single_hot, at: 40 mm}" },
    { path: ["parts", "middle"], value: "{like: narrow_single_hot}" },
    { path: ["parts", "neck_b"], value: null },
  ];
  const others = [
    { path: ["parts", "tone"], value: "{kind: pot, resistance: 500 kΩ, taper: audio}" },
    { path: ["parts", "selector"], value: "{kind: switch, like: toggle_on_on}" },
    { path: ["parts", "selector", "like"], value: "push_pull" }, // of a part that the stems leave out
    { path: ["joints", "3"], value: "[bridge.start, output.tip]" },
  ];
  assert.deepEqual(stemEdits([...heard, ...others]), heard);
});

test("an edit replaces edits below it, and none beside it", () => {
  const edits = [
    { path: ["joints", "1", "0"], value: "a.b" },
    { path: ["joints", "10"], value: "[a.b, c.d]" },
    { path: ["joints", "1"], value: "[a.b, c.d]" },
  ];
  assert.deepEqual(withEdit(edits, { path: ["joints", "1"], value: null }), [
    edits[1],
    { path: ["joints", "1"], value: null },
  ]);
});

test("places are worded as people say them, with list items counted from 1", () => {
  assert.equal(placeInWords(["parts", "tone_cap", "capacitance"]), "tone cap capacitance");
  assert.equal(placeInWords(["instrument", "strings", "0", "gauge"]), "string 1 gauge");
  assert.equal(placeInWords(["instrument", "scale"]), "scale");
  assert.equal(placeInWords(["joints", "3"]), "joint 4");
  assert.equal(placeInWords(["labels", "3"]), "label 3");
  assert.equal(placeInWords(["parts", "selector", "contacts", "3"]), "selector position 3");
  assert.ok(usesNumbers([{ path: ["couplings", "0", "coefficient"], value: "0.1" }]));
  assert.ok(
    !usesNumbers([
      { path: ["labels", "3"], value: null },
      { path: ["parts", "cap", "capacitance"], value: "1 nF" },
    ]),
  );
});
