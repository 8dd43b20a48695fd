import assert from "node:assert/strict";
import { test } from "node:test";
import {
  distance,
  dotAt,
  inDirection,
  largestDifference,
  layOut,
  nearestOf,
  placesOf,
  shapeOf,
  smallest,
  dotLabel,
  swaps,
} from "../../web/js/range/sound_map.js";
import {
  cancellingInWords,
  fieldOf,
  firstAsked,
  heardInWords,
  nearestInWords,
  phaseInWords,
  proofInWords,
  soundInWords,
} from "../../web/js/range/words.js";
import { startRanging } from "../../web/js/session/ranging.js";

const LIMITS = { band_db: [0.5, 1.6], words: ["not heard", "at the edge", "heard"] };

test("what is heard follows the band that differs most, by the limits sent", () => {
  assert.equal(largestDifference(map, 0, 3), 6);
  assert.deepEqual(
    [0.4, 0.5, 1.5, 1.6].map((db) => heardInWords(db, LIMITS)),
    ["not heard", "at the edge", "at the edge", "heard"],
  );
  assert.equal(
    nearestInWords({ nearest_db: 0.84, nearest_largest_db: 1.2 }, LIMITS),
    "0.8 dB from its nearest, at the edge",
  );
  assert.equal(nearestInWords({ nearest_db: 0.84 }, undefined), "0.8 dB from its nearest");
  assert.equal(nearestInWords({ nearest_db: null }, LIMITS), "");
});

const leaf = (name, turned = false) => ({ kind: "coil", name, turned });
const point = (expression, x, y, more = {}) => ({
  index: 0,
  expression,
  x,
  y,
  connection: [leaf(expression)],
  out_of_phase: [],
  level_below_loudest_db: -3,
  hum_db: -40,
  hum_cancelling: true,
  brightness_hz: 500,
  resonances: [],
  meter_ohm: 4000,
  in_phase: true,
  words: ["full"],
  allowed: true,
  ...more,
});
/** Timbres of two bands, hundredths of a decibel: distances are those of the plane over the root of two. */
const map = {
  sounds: 5,
  points: [
    point("a", 0, 0),
    point("b", 3, 0),
    point("c", 0, 4),
    point("d", 6, 1),
    point("e", 3.2, 0.1, { allowed: false }),
  ],
  timbre: [
    [0, 0],
    [300, 0],
    [0, 400],
    [600, 100],
    [320, 10],
  ],
};

test("the distance is the root mean square over the bands, in dB", () => {
  assert.ok(Math.abs(distance(map, 0, 1) - 3 / Math.SQRT2) < 1e-12);
  assert.ok(Math.abs(distance(map, 1, 2) - 5 / Math.SQRT2) < 1e-12);
  assert.equal(distance(map, 2, 2), 0);
});

test("a set is as wide as its two nearest", () => {
  assert.ok(Math.abs(smallest(map, [0, 1, 2]) - 3 / Math.SQRT2) < 1e-12);
  assert.equal(smallest(map, [0]), null);
  assert.deepEqual(nearestOf(map, 0, [0]), null);
  assert.equal(nearestOf(map, 3, [0, 1, 2]).member, 1);
});

test("swaps are near, allowed, not in the set, and say what the set becomes", () => {
  const found = swaps(map, [0, 2], 0, 9);
  assert.deepEqual(
    found.map(({ sound }) => map.points[sound].expression),
    ["b", "d"],
  );
  assert.ok(Math.abs(found[0].smallest - 5 / Math.SQRT2) < 1e-12);
  assert.equal(swaps(map, [0, 2], 0, 1).length, 1);
});

test("expressions are found on the map, unknown ones excluded", () => {
  assert.deepEqual(placesOf(map, ["c", "nowhere", "a"]), [2, 0]);
});

test("arrow keys go to the nearest dot in their direction, and stay where there is none", () => {
  assert.equal(inDirection(map.points, 0, "ArrowRight"), 1);
  assert.equal(inDirection(map.points, 0, "ArrowUp"), 2);
  assert.equal(inDirection(map.points, 2, "ArrowDown"), 0);
  assert.equal(inDirection(map.points, 3, "ArrowLeft"), 4);
  assert.equal(inDirection(map.points, 0, "ArrowLeft"), 0);
  assert.equal(inDirection(map.points, 0, "a"), 0);
});

test("arrow keys reach every dot of a crowd from every other", () => {
  let seed = 1;
  const random = () => (seed = (seed * 16807) % 2147483647) / 2147483647;
  const points = Array.from({ length: 200 }, () => ({ x: random(), y: random() }));
  const seen = new Set([0]),
    open = [0];
  while (open.length) {
    const from = open.pop();
    for (const key of ["ArrowRight", "ArrowLeft", "ArrowUp", "ArrowDown"]) {
      const to = inDirection(points, from, key);
      if (!seen.has(to)) {
        seen.add(to);
        open.push(to);
      }
    }
  }
  assert.ok(seen.size >= 198, `${seen.size} of 200`);
});

test("the picture has one scale for both axes, and up is up", () => {
  const { tall, perDb, places } = layOut(map.points, 600, 400, 20);
  assert.ok(Math.abs(Math.hypot(places[1].x - places[2].x, places[1].y - places[2].y) - 5 * perDb) < 1e-9);
  assert.ok(places[2].y < places[0].y);
  assert.ok(places.every(({ x, y }) => x >= 20 && x <= 580 && y >= 0 && y <= tall));
  assert.equal(layOut([{ x: 1, y: 1 }], 300, 300, 10).places.length, 1);
});

test("a pointer finds the nearest dot within reach", () => {
  const places = [
    { x: 0, y: 0 },
    { x: 10, y: 0 },
  ];
  assert.equal(dotAt(places, 6, 1, 24), 1);
  assert.equal(dotAt(places, 100, 1, 24), -1);
});

test("shape and words show phase and hum", () => {
  assert.equal(shapeOf({ hum_cancelling: true, in_phase: true }), "disc full");
  assert.equal(shapeOf({ hum_cancelling: false, in_phase: false }), "diamond hollow");
  const words = dotLabel(
    point("neck_a", 0, 0, { hum_cancelling: false, in_phase: false, allowed: false }),
    2,
    1.234,
  );
  for (const part of [
    "Position 2",
    "neck a",
    "out of phase",
    "full",
    "hums",
    "−3.0 dB",
    "1.2 dB from the nearest chosen",
    "excluded",
  ])
    assert.ok(words.includes(part), `${part} in ${words}`);
});

test("a network is read aloud", () => {
  const tree = {
    kind: "series",
    members: [
      leaf("neck_a"),
      { kind: "parallel", members: [leaf("neck_b", true), leaf("bridge_a"), leaf("bridge_b")] },
    ],
  };
  assert.equal(
    soundInWords(tree),
    "neck a and (neck b reversed, bridge a and bridge b in parallel) in series",
  );
});

test("problems find their field", () => {
  for (const [where, name] of [
    ["pinned", "pins"],
    ["pin 'x'", "pins"],
    ["hum-cancelling", "quiet"],
    ["positions", "count"],
    ["coils", "coils"],
    ["table:2: lugs", "switch"],
    ["wiring: selector", ""],
  ])
    assert.equal(fieldOf(where), name);
});

test("only proved results are called proved", () => {
  const set = { rows: [1, 2, 3], distance_db: 4.8316, bound_db: 6.2, proved: false };
  const search = { state: "running", phase: "searching", sounds: 572, set };
  assert.equal(
    proofInWords(search),
    "Best so far 4.83 dB apart; none can be above 6.20 dB. Looking for better ones.",
  );
  assert.equal(
    proofInWords({ ...search, state: "cancelled" }),
    "Best found: 4.83 dB apart; none can be above 6.20 dB.",
  );
  assert.equal(
    proofInWords({ ...search, set: { ...set, proved: true } }),
    "Proved best: no 3 of these 572 sounds that keep the rules are farther apart than 4.83 dB.",
  );
  assert.match(proofInWords({ ...search, anywhere_db: 7, set: { ...set, proved: true } }), /on this switch/);
  assert.equal(proofInWords({ state: "running" }), "");
});

test("every phase and every end has its words", () => {
  for (const state of ["cancelled", "failed", "time"])
    assert.match(phaseInWords({ state }), /The result so far stays/);
  for (const phase of ["waiting", "sounds", "searching", "switch", "others", "facts"])
    assert.ok(phaseInWords({ state: "running", phase, sounds: 6 }).length > 10);
  assert.equal(phaseInWords({ state: "done", elapsed_s: 1.26 }), "Done in 1.3 s.");
});

test("the first question fits the coils", () => {
  assert.deepEqual(firstAsked([{ winding: "forward" }, { winding: "forward" }]), { count: 3, quiet: 0 });
  assert.deepEqual(firstAsked([{ winding: "forward" }, { winding: "reverse" }]), { count: 3, quiet: 1 });
  assert.deepEqual(
    firstAsked(Array.from({ length: 4 }, (_, k) => ({ winding: k % 2 ? "reverse" : "forward" }))),
    { count: 5, quiet: 2 },
  );
  assert.notEqual(startRanging().asked, startRanging().asked);
});

test("the line between hum that cancels and hum that is heard is said", () => {
  assert.equal(cancellingInWords(-15), "Hum cancels where −15 dB of it or less is left.");
});
