import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { test } from "node:test";
import { nextLug } from "../../web/js/bench/drawing_keys.js";
import {
  brokenWords,
  contactWords,
  lugWords,
  partWords,
  runWords,
  soundWords,
  wireWords,
} from "../../web/js/bench/drawing_words.js";
import { layOut } from "../../web/js/drawing/layout.js";
import { pictureOf } from "../../web/js/drawing/paint.js";

const facts = JSON.parse(readFileSync(new URL("reference/drawing_twelve.json", import.meta.url), "utf8"));
const laid = layOut(facts, { folded: true });
const picture = pictureOf(facts, laid, { mode: "sound", state: facts.states[0], knobs: { volume: 7 } });
/** @param {string} a @param {string | null} b */
const wire = (a, b) => {
  const found = laid.wires.find((one) => one.a === a && one.b === b);
  assert.ok(found, `${a} ${b}`);
  return found;
};

test("a wire says what it is for", () => {
  assert.equal(
    wireWords(picture, wire("selector.N", "neck.start"), facts.states),
    "selector N to neck start: joint 2, used in positions 1, 2.",
  );
  assert.equal(
    wireWords(picture, wire("output.sleeve", null), facts.states),
    "output sleeve to ground: ground, used in every position.",
  );
});

test("a lug says what it is soldered to", () => {
  assert.equal(lugWords(picture, "tone.1"), "tone 1: joint 6 with tone_cap a.");
  assert.equal(lugWords(picture, "tone.3"), "tone 3: joined to nothing.");
});

test("a part says what it does at the setting", () => {
  assert.equal(partWords(picture, "bridge"), "Bridge: coil, 6.6 kΩ, hangs: silent.");
  assert.equal(partWords(picture, "volume"), "Volume: pot, 250 kΩ, carries the sound, at 7.");
  assert.equal(partWords(picture, "selector"), "Selector: switch, carries the sound, position 1.");
});

test("the text names what sounds and what rests at every position", () => {
  assert.deepEqual(soundWords(facts, facts.states), [
    "Position 1: Neck sounds. At rest: bridge, bypass_cap, bypass_resistor, phase.",
    "Position 2: Neck and Bridge sound. At rest: bypass_cap, bypass_resistor.",
    "Position 3: Bridge sounds. At rest: neck, bypass_cap, bypass_resistor.",
  ]);
});

test("the text names the lugs that every switch joins at every position", () => {
  assert.deepEqual(contactWords(facts), [
    { name: "selector", rows: [["1", "N with C"], ["2", "N with C with B"], ["3", "C with B"]] },
    { name: "phase", rows: [["1", "A0 with A1; B0 with B1"], ["2", "A0 with A2; B0 with B2"]] },
  ]); // prettier-ignore
});

test("the text names every joint and every wire", () => {
  const lines = runWords(picture);
  assert.equal(lines.length, facts.joints.length);
  const all = lines.join(" ");
  for (const one of laid.wires) {
    if (one.b) assert.ok(all.includes(`${one.a.replace(".", " ")} to ${one.b.replace(".", " ")}`), one.key);
  }
  assert.ok(lines[0].startsWith("Joint 1, carries the sound: "));
  assert.equal(lines.at(-1), "Ground, carries the sound: each of its lugs has a ground symbol.");
});

test("a wire without a way is named in the text", () => {
  const broken = wire("selector.N", "neck.start");
  const lost = { ...picture, routed: { ...picture.routed, broken: [broken] } };
  assert.deepEqual(brokenWords(lost), ["selector N to neck start: both ends are marked."]);
  assert.deepEqual(brokenWords(picture), []);
});

test("arrows lead from lug to lug, and every lug can be reached", () => {
  const lugs = [...laid.placed.lugs.values()].filter(({ name }) => name !== "casing");
  const start = /** @type {(typeof lugs)[0]} */ (laid.placed.lugs.get("neck.start"));
  assert.equal(nextLug(lugs, start, [0, 1]).terminal, "neck.finish");
  /** @type {[number, number][]} */
  const arrows = [[1, 0], [-1, 0], [0, 1], [0, -1]]; // prettier-ignore
  const seen = new Set([start]);
  for (const lug of seen) for (const to of arrows) seen.add(nextLug(lugs, lug, to));
  assert.deepEqual(
    lugs.filter((lug) => !seen.has(lug)).map(({ terminal }) => terminal),
    [],
  );
});
