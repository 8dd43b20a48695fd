import assert from "node:assert/strict";
import { test } from "node:test";
import {
  changeSound,
  hearFirst,
  nameOf,
  newAlternative,
  repeatSound,
  requestOf,
  soundsOf,
  toggleWay,
  USUAL_WAYS,
  withoutSound,
} from "../../web/js/proposals/offering.js";

/** @typedef {import("../../web/js/proposals/offering.js").Known} Known */
const stop = (/** @type {string} */ position, findings = 0) =>
  /** @type {import("../../web/js/session/stops.js").Stop} */ ({
    position,
    name: `Sound ${position}`,
    findings,
  });
/** @type {Known} */
const known = {
  stops: [stop("1"), stop("2", 1)],
  knobs: { volume: 10, tone: 7 },
  switches: { split: "1" },
  parts: ["neck", "tone"],
  coils: ["neck"],
};
const offering = (/** @type {Partial<ReturnType<typeof newAlternative>>[]} */ ...wirings) => ({
  title: " Yours ",
  days: "30",
  takes: ["riff"],
  ways: USUAL_WAYS,
  wirings: wirings.map((one, k) => ({ ...newAlternative(`v${k + 1}`), sounds: soundsOf([], known), ...one })),
});
const asked = (/** @type {ReturnType<typeof offering>} */ one) => requestOf(one, () => known);

test("every position is offered but those with findings, with the knobs of the bench", () => {
  const { problem, form } = asked(offering({}));
  assert.equal(problem, "");
  assert.equal(form.title, "Yours");
  assert.deepEqual(form.items, [
    {
      version: "v1",
      position: "1",
      knobs: { volume: 10, tone: 7 },
      switches: { split: "1" },
      label: "Sound 1",
    },
  ]);
});

test("one position comes twice, with other knobs, and is named by what differs", () => {
  const first = soundsOf([], known),
    twice = repeatSound(first, 0, known);
  assert.match(asked(offering({ sounds: twice })).problem, /are the same/);
  const turned = changeSound(twice, 1, { knobs: { volume: 10, tone: 0 } });
  const { problem, form } = asked(offering({ sounds: turned }));
  assert.equal(problem, "");
  assert.deepEqual(
    form.items.map(({ position, knobs, label }) => [position, knobs.tone, label]),
    [
      ["1", 7, "Sound 1"],
      ["1", 0, "Sound 1, tone 0"],
    ],
  );
  assert.equal(nameOf({ ...turned[1], label: " Dark " }, known), "Dark");
  assert.deepEqual(withoutSound(turned, 1), first);
});

test("what was set for a sound stays when its wiring changes, as far as it is still there", () => {
  const before = changeSound(repeatSound(soundsOf([], known), 0, known), 1, {
    knobs: { volume: 3, tone: 0 },
  });
  const now = { ...known, stops: [stop("1"), stop("3")], knobs: { volume: 10, blend: 5 } };
  assert.deepEqual(
    soundsOf(before, now).map(({ position, more, knobs }) => [position, more, knobs]),
    [
      ["1", false, null],
      ["1", true, { volume: 3, blend: 5 }],
      ["3", false, null],
    ],
  );
});

test("alternatives have a name each and a sound each", () => {
  const one = {
    name: "As it is",
    price: " 180 ",
    when_ready: "soon",
    kept: ["neck"],
    farthest: /** @type {const} */ ("cables"),
  };
  const { form } = asked(offering(one, { name: "Rounder" }));
  assert.deepEqual(form.wirings, [
    { version: "v1", name: "As it is", price: "180", when_ready: "soon", kept: ["neck"], farthest: "cables" },
    { version: "v2", name: "Rounder", price: "", when_ready: "", kept: null, farthest: "" },
  ]);
  assert.equal(asked(offering(one)).form.wirings[0].name, "", "one wiring has the proposal's title");
  assert.match(asked(offering(one, { sounds: [] })).problem, /every wiring/);
});

test("an offer without sounds or takes, or with too many, is not sent", () => {
  assert.match(asked(offering({ sounds: [] })).problem, /at least one position/);
  assert.match(asked({ ...offering({}), takes: [] }).problem, /one take/);
  const many = Array.from({ length: 25 }, (_, k) => ({
    position: "1",
    on: true,
    more: k > 0,
    knobs: { volume: 10, tone: k / 10 },
    label: "",
  }));
  assert.match(asked(offering({ sounds: many })).problem, /at most 24 sounds; there are 25/);
});

test("the customer hears a new proposal clean first, and never in no way at all", () => {
  assert.deepEqual(asked(offering({})).form.ways, ["clean", "direct"]);
  assert.deepEqual(hearFirst(["clean", "direct", "edge"], "edge"), ["edge", "clean", "direct"]);
  assert.deepEqual(toggleWay(["clean", "direct"], "clean"), ["direct"]);
  assert.deepEqual(toggleWay(["direct"], "driven"), ["direct", "driven"]);
  const none = { ...offering({}), ways: toggleWay(["direct"], "direct") };
  assert.match(asked(none).problem, /at least one way/);
});
