import assert from "node:assert/strict";
import { test } from "node:test";
import { rowOf, startFaults, rowsOf, tableOf, withHeard, withWord } from "../../web/js/session/faults.js";
import {
  excitedText,
  knobOf,
  lineText,
  nextText,
  settingText,
  summaryText,
  sureText,
} from "../../web/js/checking/words.js";

/** @param {string} value @param {string} [setting] */
const heard = (value, setting = "1") => ({ setting, what: "heard", value });

test("words add up, and fine goes with none of them", () => {
  let rows = withWord([], heard("thin"), true);
  rows = withWord(rows, heard("hums"), true);
  assert.deepEqual(
    rows.map(({ value }) => value),
    ["thin", "hums"],
  );
  assert.deepEqual(withWord(rows, heard("thin"), false), [heard("hums")]);
  rows = withWord(rows, heard("fine"), true);
  assert.deepEqual(rows, [heard("fine")]);
  assert.deepEqual(withWord(rows, heard("dull"), true), [heard("dull")]);
  assert.equal(withWord(rows, heard("dull", "2"), true).length, 2);
});

test("a table keeps its columns whatever was typed", () => {
  assert.equal(tableOf([]), "");
  const text = tableOf([{ setting: "1", what: "meter", value: '8;2\n"k"' }]);
  assert.equal(text, "setting;what;value\n1;meter;8 2  k\n");
  assert.deepEqual(rowsOf(text), [{ setting: "1", what: "meter", value: "8 2  k" }]);
  assert.deepEqual(rowsOf(""), []);
  assert.equal(rowOf("readings:2"), 0);
  assert.equal(rowOf("readings:4: tone"), 2);
  assert.equal(rowOf("wiring:3"), -1);
});

test("readings of the last wirings are kept", () => {
  const full = ["a", "b", "c", "d"].reduce(
    (state, name) => withHeard(state, name, [heard("thin")]),
    startFaults(),
  );
  assert.deepEqual(Object.keys(full.heard), ["b", "c", "d"]);
  assert.deepEqual(Object.keys(withHeard(full, "c", []).heard), ["b", "d"]);
});

test("lines say what they are and how sure", () => {
  const one = { kind: "open", text: "the joint at a is open", terminals: ["a.b"] };
  const none = { kind: "sound", text: "no fault", terminals: [] };
  assert.equal(lineText({ probability: 1, sound: false, faults: [one] }), "The joint at a is open");
  assert.match(lineText({ probability: 1, sound: true, faults: [none, one] }), /^No fault/);
  const several = {
    probability: 0.7,
    sound: false,
    faults: [one, { ...one, text: "b" }, { ...one, text: "c" }],
  };
  assert.match(lineText(several), /^One of these 3/);
  const answer = { classes: [several], unexplained: null, next: null, unseen: [], harmless: [], readings: 2 };
  assert.equal(
    summaryText(answer),
    "By 2 readings, likely: the joint at a is open, or 2 more that nothing here tells apart.",
  );
  assert.deepEqual([0.96, 0.6, 0.3, 0.1].map(sureText), ["almost sure", "likely", "possible", "less likely"]);
});

test("a setting is named as on the guitar", () => {
  const one = { setting: "2 x", position: "2", label: "", switches: { phase: "2" }, knobs: { tone_neck: 0 } };
  assert.equal(settingText(one), "Position 2, phase at 2, tone neck at 0");
  assert.equal(knobOf(one), "tone_neck");
});

test("an exciter and a blade are asked for in words", () => {
  const next = { setting: "1", what: "exciter", coils: ["neck_a", "neck_b"], gain_nats: 1 };
  assert.equal(
    nextText(next, undefined),
    "The exciter over Neck a, then Neck b, at every setting of the switches",
  );
  assert.equal(
    nextText({ ...next, what: "blade" }, undefined),
    "The blade, pulled away from Neck a, then Neck b",
  );
  assert.match(excitedText([]), /Nothing was read/);
  assert.match(excitedText(["neck_a"]), /blade: Neck a\.$/);
});
