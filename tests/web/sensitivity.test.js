/** What is said of coils' sensitivity, where dots and bars stand, and what the drawing tells. */

import assert from "node:assert/strict";
import { test } from "node:test";

import { find, press, settle, tell } from "./page_help.js";
import { plucksDrawing } from "../../web/js/verifying/plucks_drawing.js";
import { openSensitivity } from "../../web/js/verifying/sensitivity_view.js";
import { levelsOf, resultView } from "../../web/js/verifying/sensitivity_result.js";
import {
  changeText,
  countText,
  goneText,
  lonelyText,
  missingText,
  placeText,
  pluckText,
  plainNotes,
  polarityText,
  removedText,
  sensitivityText,
  sinceFound,
  sinceText,
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
  const moved = { ...RESULT, gone: [{ setting: "4", string: 9 }] };
  assert.deepEqual(goneText(moved, STRINGS), [
    "String 9: Position 4: not compared, as the wiring has no such place now.",
  ]);
  assert.match(missingText(false, true), /no such setting now: the recording is not compared/);
  assert.match(missingText(true, false), /no such string/);
  assert.equal(missingText(true, true), "");
});

test("notes name coils as people read them", () => {
  const notes = ["Against neck, bridge_a and not bridge_ab: the necks."];
  assert.deepEqual(plainNotes({ ...RESULT, notes }), [
    "Against Neck, Bridge a and not bridge_ab: the necks.",
  ]);
});

test("values that stand in the wiring already are not said to differ from it", () => {
  const neck = { sensitivity: 0.06, string_balance: [] },
    before = { neck, bridge_a: { sensitivity: 0.055, string_balance: [0, 0] } },
    result = { ...RESULT, sensed: before };
  const since = (sensed, basis = "one", of = result) => sinceFound(of, { basis, sensed });
  assert.equal(since({ ...before, bridge_a: { sensitivity: 0.055, string_balance: [] } }), "");
  assert.equal(since({ neck, bridge_a: { sensitivity: 0.078, string_balance: [-4.5, 0] } }), "taken");
  assert.equal(since({ neck, bridge_a: { sensitivity: 0.078, string_balance: [] } }), "changed");
  assert.equal(since({ ...before, neck: { ...neck, sensitivity: 0.05 } }), "changed");
  assert.equal(since(before, "two"), "changed");
  assert.equal(since({}, "one", RESULT), "", "kept before each coil's own were");
  assert.match(sinceText("taken"), /stand in the wiring already/);
  assert.match(sinceText("changed"), /find them again/);
  const plan = { basis: "one", sensed: before, strings: STRINGS };
  const view = resultView({ plan: () => plan, take: async () => {} });
  view.update(result);
  assert.match(view.element.textContent, /louder than the wiring says/);
  press(view.element, "Take these values");
  plan.sensed = { neck, bridge_a: { sensitivity: 0.078, string_balance: [-4.5, 0] } };
  view.update(result);
  assert.match(view.element.textContent, /louder than the wiring said/);
  assert.throws(() => press(view.element, "Take these values"), /is disabled/);
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

test("the drawing of a guitar with toggles numbers its settings, and says how many there are", () => {
  const settings = [1, 2, 3, 4].flatMap((at) => [`Position ${at}`, `Position ${at}, phase at 2`]);
  const [, files] = plucksDrawing(settings, ["String 2 (E2)", "String 1 (E4)"]).children;
  assert.match(files.attributes.get("aria-label"), /2 strings,.* 8 settings,.*; and so on: 16 files/);
  const words = files.children.filter((one) => one.tag === "text").map((one) => one.textContent);
  assert.deepEqual(words.slice(1, 7), ["1st", "2nd", "3rd", "4th", "5th", "…"]);
  assert.match(words[0], /: 16$/);
  const [, few] = plucksDrawing(["Position 1", "Position 2"], ["String 1 (E4)"]).children;
  const heads = few.children.filter((one) => one.tag === "text").map((one) => one.textContent);
  assert.deepEqual(heads.slice(1, 3), ["1", "2"]);
});

test("a recording of what the wiring has no longer can be thrown away, and brought back once", async () => {
  const row = (setting, string) => ({
    id: "x",
    name: "a.wav",
    came: "",
    setting,
    string,
    seconds: 9,
    strums: 5,
  });
  const plucked = {
    recordings: [row("1", 9), row("4", 1)],
    fields: { strings: [1], hand: "finger", reference: "", frets: "", cable: "", input: "" },
    result: null,
    removed: row("1", 1),
  };
  const plan = {
    ...{ cautions: [], steps: [], advised: [1], coils: ["neck", "bridge"], hands: ["finger"] },
    ...{ settings: [{ setting: "1", label: "" }], strings: STRINGS, basis: "one", sensed: {} },
  };
  const asked = [];
  globalThis.fetch = async (path, { method }) => {
    const { pathname } = new URL(path, "http://here");
    asked.push(`${method} ${pathname}`);
    return new Response(JSON.stringify(pathname.endsWith("/plan") ? plan : plucked), { status: 200 });
  };
  const commission = { wirings: [{ id: "w", versions: [{ id: "v" }] }] };
  openSensitivity({ slot: () => ({ version: "v", edits: [] }), get: () => ({ commission }) });
  await settle();
  await settle();
  const page = globalThis.document.body;
  const at = (key) => find(page, "li", "data-step", key);
  assert.match(at("1:9").textContent, /no such string now: the recording is not compared/);
  assert.match(at("4:1").textContent, /no such setting now: the recording is not compared/);
  assert.doesNotMatch(at("1:1").textContent, /not compared/);
  const dialog = () => find(page, "dialog");
  assert.equal(tell(dialog(), "cancel"), false, "nothing is lost");
  globalThis.XMLHttpRequest = class {
    upload = {};
    open() {}
    setRequestHeader() {}
    send() {}
    abort() {}
  };
  const picker = find(at("1:1"), "input", "type", "file");
  picker.files = [new File(["a"], "a.wav")];
  tell(picker, "change");
  assert.ok(tell(dialog(), "cancel"), "a file on its way does not go unasked");
  assert.match(page.textContent, /is still on its way/);
  press(page, "Go back");
  press(at("1:9"), "Throw away");
  await settle();
  assert.ok(asked.includes("DELETE /api/sensitivity/recordings"));
  press(page, "Bring it back");
  assert.throws(() => press(page, "Bring it back"), /is disabled/);
});
