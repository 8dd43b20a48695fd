import assert from "node:assert/strict";
import { test } from "node:test";
import {
  curveInWords,
  elsewhereInWords,
  goalInWords,
  humInWords,
  reachInWords,
  wayInWords,
} from "../../web/js/range/words.js";

const FOUND = { to: ["thin"], at_least_db: 3, within_db: 9, evenness: 0.6, networks: 658, computed: 65800 };

test("what was computed is said, and whether anything meets the goal", () => {
  const some = /** @type {any} */ ([{}]);
  assert.equal(
    goalInWords({ ...FOUND, meeting: 1337, candidates: some }),
    "658 networks, 65,800 travels, all computed: 1,337 meet the goal.",
  );
  assert.match(goalInWords({ ...FOUND, meeting: 0, candidates: some }), /none meets the goal. The nearest:$/);
  assert.match(goalInWords({ ...FOUND, meeting: 0, candidates: [] }), /none leads there.$/);
});

test("positions that stay as they are share a sentence", () => {
  const row = { label: "", width_db: 3.14, spread_db: 2, evenness: 0.5, at_ten_db: 0.4, at_ten_level_db: 1 };
  const rows = [
    { ...row, position: "1", same: true },
    { ...row, position: "3", same: true },
    { ...row, position: "4", label: "Neck", same: false },
    { ...row, position: "5", same: false, width_db: 0.01, spread_db: 0.02, at_ten_level_db: -1 },
  ];
  assert.equal(reachInWords(rows), "Changes 4, 5 too");
  assert.equal(reachInWords(rows.slice(0, 2)), "Every other position stays as today");
  assert.deepEqual(elsewhereInWords(rows), [
    "In 1, 3 as today.",
    "In 4 (Neck) 3.1 dB of timbre along the knob, level within 2.0 dB, evenness 0.50; 0.4 dB of timbre and +1.0 dB of level from today's at 10.",
    "In 5 the knob does nothing; 0.4 dB of timbre and −1.0 dB of level from today's at 10.",
  ]);
});

test("figures name what was asked for", () => {
  const way = /** @type {any} */ ({
    ...{
      change_db: 5.26,
      even: 0.803,
      spread_db: 4.6,
      bass_db: -5.8,
      treble_db: 4.9,
      start: 0,
      start_db: 0.5,
    },
  });
  assert.equal(
    wayInWords(way, false),
    "5.3 dB of timbre, evenness 0.80, level within 4.6 dB; bass −5.8, treble +4.9 dB re the total. Today's sound at 0 (0.5 dB off).",
  );
  assert.match(wayInWords(way, true), /^5.3 dB of level, evenness 0.80, timbre within 4.6 dB. Today's/);
  const hum = (/** @type {(number | null)[]} */ dbs) => humInWords({ ...way, hum_db: dbs });
  assert.equal(hum([-24.3, 0.4]), "Hum, re the same coils adding up: −24 dB at 0, 0 dB at 10.");
  assert.equal(hum([null, null]), "");
  assert.match(wayInWords({ ...way, change_db: 120 }, true), /^level to silence, evenness/);
  assert.equal(
    curveInWords([
      [0, 0],
      [0.25, 0.07],
      [1, 1],
    ]),
    "0 % at 0, 7 % at 2.5, 100 % at 10",
  );
});
