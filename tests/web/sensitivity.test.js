/** What is said of coils' sensitivity, where dots and bars stand, and what the drawing tells. */

import assert from "node:assert/strict";
import { test } from "node:test";

import "./page_help.js";
import { plucksDrawing } from "../../web/js/verifying/plucks_drawing.js";
import { levelsOf } from "../../web/js/verifying/sensitivity_result.js";
import {
  changeText,
  countText,
  lonelyText,
  placeText,
  pluckText,
  polarityText,
  removedText,
  sensitivityText,
  staleText,
  stringText,
  takeText,
  waitingText,
} from "../../web/js/verifying/sensitivity_words.js";

const STRINGS = [
  { string: 2, note: "E2" },
  { string: 1, note: "E4" },
];
const BRIDGE = {
  coil: "bridge_a",
  told: true,
  change_db: 3.04,
  within_db: 2.06,
  sensitivity: 0.07803,
  interval: /** @type {[number, number]} */ ([0.0616, 0.0989]),
  reason: "",
  balance: [{ string: 2, change_db: -4.5, within_db: 2 }],
  string_balance: [-4.5, 0],
};
const RESULT = {
  reference: "neck",
  fits: true,
  coils: [BRIDGE],
  polarities: [],
  recordings: [{ file: "a.wav", setting: "2", string: null, compared: false }],
  notes: [],
  day: "2026-11-30",
  take: { bridge_a: { sensitivity: 0.078, string_balance: [-4.5, 0], comment: "" } },
  against: {},
  basis: "one",
};

test("places and recordings are named by string and position", () => {
  assert.equal(stringText(2, STRINGS), "String 2 (E2)");
  assert.equal(stringText(7, STRINGS), "String 7", "one that the wiring has no more");
  assert.equal(
    placeText({ setting: "2 phase=2", string: 0 }, STRINGS),
    "All strings, strummed: Position 2, phase at 2",
  );
  assert.equal(pluckText({ strums: 1, seconds: 3.6 }), "1 pluck in 4 s");
  assert.equal(countText(2, 9), "2 of 9 recordings are here.");
  assert.match(waitingText(9), /some seconds…$/);
  assert.match(waitingText(36), /a minute…$/);
  const removed = { id: "x", name: "a.wav", came: "", setting: "1", string: 1, seconds: 1, strums: 5 };
  assert.equal(removedText(removed, STRINGS), "“a.wav” does not count any more (String 1 (E4): Position 1).");
});

test("a value is told with its interval, or as not told", () => {
  assert.equal(changeText(BRIDGE), "+3.0 ± 2.1 dB");
  assert.equal(changeText({ change_db: null, within_db: 4 }), "not told");
  assert.equal(sensitivityText(BRIDGE), "0.078 V per m/s, between 0.0616 and 0.0989");
  assert.equal(sensitivityText({ ...BRIDGE, sensitivity: null }), "");
});

test("polarity says how sure it is, and where it differs", () => {
  const pair = {
    coils: /** @type {[string, string]} */ (["neck", "bridge"]),
    setting: "2",
    wired: "in phase",
  };
  const said = (heard, chance) => polarityText({ ...pair, heard, probability_as_wired: chance });
  assert.equal(
    said("in phase", 0.999),
    "Neck and Bridge, Position 2: in phase, as the wiring says (over 99 % sure).",
  );
  assert.equal(
    said("out of phase", 0.03),
    "Neck and Bridge, Position 2: out of phase, but the wiring says in phase (97 % sure).",
  );
  assert.match(said(null, 0.6), /do not tell/);
});

test("what is taken and what not is said", () => {
  const text = takeText(RESULT);
  assert.match(text, /^Taken: the sensitivity of Bridge a with the balance/);
  assert.match(text, /Not taken: polarity/);
  assert.match(text, /Neck keeps its values/);
  assert.match(takeText({ ...RESULT, take: {} }), /No value is sure enough/);
  assert.deepEqual(lonelyText(RESULT, STRINGS), [
    "All strings, strummed: Position 2: nothing compares with it.",
  ]);
  assert.equal(staleText(RESULT, "one"), "");
  assert.match(staleText(RESULT, "two"), /find them again/);
});

test("every interval has room, and zero stands amid", () => {
  const { far, x } = levelsOf(RESULT);
  assert.equal(far, 9, "4.5 and 2 dB to one side, in steps of three");
  assert.ok(x.to(-6.5) > x.to(-9) && x.to(5.1) < x.to(9));
  assert.equal(x.to(0), (x.to(-9) + x.to(9)) / 2);
  const untold = { ...BRIDGE, change_db: null, within_db: 30, balance: [] };
  assert.equal(levelsOf({ ...RESULT, coils: [untold] }).far, 6, "what is not told takes no room");
});

test("the drawing has a file for each string and position, in words too", () => {
  const drawn = plucksDrawing(["Position 1", "Position 2"], ["String 2 (E2)", "String 1 (E4)"]);
  const [file, files] = drawn.children;
  assert.match(file.attributes.get("aria-label"), /plucked five times/);
  assert.equal(files.children.filter((one) => one.tag === "rect").length, 4);
  assert.equal(file.children.filter((one) => one.attributes.get("class") === "ring").length, 5);
});
