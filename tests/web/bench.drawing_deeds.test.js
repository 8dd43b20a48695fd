import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { test } from "node:test";
import { solderChange, unsolderChange } from "../../web/js/bench/drawing_deeds.js";
import { sideOf } from "../../web/js/drawing/carry.js";
import { layOut, layWires } from "../../web/js/drawing/layout.js";
import { pictureOf } from "../../web/js/drawing/paint.js";
import { shapesOf } from "../../web/js/drawing/place.js";

const facts = JSON.parse(readFileSync(new URL("reference/drawing_twelve.json", import.meta.url), "utf8"));
const laid = layOut(facts, { folded: true });
const picture = pictureOf(facts, laid, { mode: "sound", state: null });
/** @param {[string, string][]} runs @param {boolean} folded */
const withRuns = (runs, folded = true) =>
  layWires({ ...facts, runs }, shapesOf(facts), laid.places, { folded }).wires;
/** @param {import("../../web/js/drawing/types.js").Wire[]} wires @param {string} a @param {string} b */
const has = (wires, a, b) =>
  wires.some((wire) => [wire.a, wire.b].includes(a) && [wire.a, wire.b].includes(b));

test("every run that was soldered is drawn, and the joint stays one tree", () => {
  facts.joints.forEach((joint, number) => {
    for (const a of joint) {
      for (const b of joint) {
        if (a === b || number === facts.ground) continue;
        const mine = withRuns([[a, b]]).filter((wire) => wire.joint === number);
        assert.ok(has(mine, a, b), `${a} to ${b}`);
        assert.equal(mine.length, joint.length - 1);
        assert.equal(sideOf({ ...mine[0], key: "none" }, mine).size, joint.length);
      }
    }
  });
});

test("runs that close a loop, or name no joint, are left out", () => {
  const plain = withRuns([]);
  const ring = /** @type {[string, string][]} */ ([
    ["selector.C", "tone.2"],
    ["tone.2", "bypass_cap.a"],
    ["bypass_cap.a", "selector.C"],
    ["selector.C", "output.tip"],
    ["gone.1", "output.tip"],
  ]);
  const found = withRuns(ring);
  assert.equal(found.length, plain.length);
  assert.ok(has(found, "tone.2", "bypass_cap.a"));
  assert.ok(!has(found, "bypass_cap.a", "selector.C"));
});

test("runs of the ground are drawn where it runs from lug to lug", () => {
  const run = /** @type {[string, string][]} */ ([["phase.B1", "output.sleeve"]]);
  assert.ok(has(withRuns(run, false), "phase.B1", "output.sleeve"));
  assert.ok(!has(withRuns(run), "phase.B1", "output.sleeve"));
});

test("a wire is noted only where the drawing would run another", () => {
  assert.deepEqual(solderChange(picture, "tone.3", "neck.start", true), {
    do: "solder",
    terminals: ["tone.3", "neck.start"],
    run: true,
  });
  const { run } = /** @type {{run: boolean}} */ (solderChange(picture, "tone.3", "phase.A0", true));
  const noted = facts.joints.map((joint) => (joint.includes("phase.A0") ? [...joint, "tone.3"] : joint));
  const wires = layWires({ ...facts, joints: noted }, shapesOf(facts), laid.places, { folded: true }).wires;
  assert.equal(run, !has(wires, "tone.3", "phase.A0"));
  assert.equal(/** @type {any} */ (solderChange(picture, "tone.3", "volume.1", true)).run, false); // a ground symbol
});

test("a wire taken out parts its joint into what hangs on either end", () => {
  for (const wire of picture.wires) {
    const change = unsolderChange(picture, wire);
    if (wire.b === null) {
      assert.deepEqual(change, { do: "unsolder", terminal: wire.a });
      continue;
    }
    assert.ok(change?.do === "unsolder wire");
    const joint = facts.joints[wire.joint];
    const [near, far] = [change.with_first, joint.filter((one) => !change.with_first.includes(one))];
    assert.deepEqual([...change.ends], [wire.a, wire.b]);
    assert.ok(near.includes(wire.a) && far.includes(wire.b));
    const left = picture.wires.filter((one) => one.joint === wire.joint && one !== wire);
    for (const half of [near, far]) {
      assert.equal(left.filter((one) => half.includes(one.a)).length, half.length - 1);
    }
  }
});

test("a ground wire to a casing parts what the file names; one to a bare casing parts nothing", () => {
  const open = layWires(facts, shapesOf(facts), laid.places, { folded: false });
  const unfolded = pictureOf(facts, open, { mode: "sound", state: null });
  const ground = facts.joints[facts.ground];
  let bare = 0;
  for (const wire of unfolded.wires.filter(({ joint }) => joint === facts.ground)) {
    const change = unsolderChange(unfolded, wire);
    if (!change) {
      bare += 1;
      continue;
    }
    assert.ok(change.do === "unsolder wire");
    assert.ok(change.ends.every((end) => ground.includes(end)));
    assert.ok(change.with_first.includes(change.ends[0]) && !change.with_first.includes(change.ends[1]));
  }
  assert.ok(bare < unfolded.wires.length / 2);
});
