import assert from "node:assert/strict";
import { test } from "node:test";
import { limitText } from "../../web/js/checking/limits_view.js";
import { bandPath, rangeOf } from "../../web/js/checking/spread_plot.js";
import { partText, passedText, selectingText, spreadText } from "../../web/js/checking/words.js";
import { besideSlots } from "../../web/js/session/compare.js";

test("a limit is written in the words that the server reads", () => {
  const resonance = limitText("resonance", "1", "2.5", "3.1 kHz");
  assert.equal(resonance, "resonance of 1 between 2.5 and 3.1 kHz");
  assert.equal(limitText("level", "", "", "3 dB"), "level at most 3 dB below the loudest");
  assert.equal(limitText("timbre", "2", "", "0,5"), "timbre of 2 at most 0.5 dB from nominal");
});

test("a band runs along its top and back along its foot", () => {
  /** @param {number[]} hz @param {number[]} db */
  const path = (hz, db) => hz.map((f, k) => `${k ? "L" : "M"}${f} ${db[k]}`).join("");
  assert.equal(bandPath([1, 2], [-1, -2], [3, 4], path), "M1 3L2 4L2 -2L1 -1Z");
  assert.deepEqual(rangeOf([[0, 4.9]]), [-12, 6]);
  assert.deepEqual(rangeOf([[-16]]), [-30, -12]);
});

test("what differs is said in words", () => {
  const row = { setting: "1", semitones: 12, height_db: 1, hum_db: 0, timbre_db: 1 };
  const told = spreadText({ ...row, resonance_hz: 2000, level_db: 0.06, farthest_db: 1.43 });
  assert.equal(told, "resonance 1.00 kHz to 4.00 kHz · level ±0.06 dB · farthest two 1.4 dB of timbre apart");
  assert.match(spreadText({ ...row, resonance_hz: null, level_db: 0, farthest_db: 0 }), /^level/);
  const shares = [
    { part: "cable", share: 0.6, selected_gain: 0.3 },
    { part: "tone_pot", share: 0.2, selected_gain: 0.08 },
  ];
  assert.deepEqual(shares.map(partText), ["The player's cable: 60 %", "Tone pot: 20 %"]);
  assert.match(selectingText(shares, "tone_pot"), /Worth selecting: tone pot\..*8 % less/);
  assert.match(selectingText(shares, null), /^No part/);
  assert.equal(passedText({ passed: 1, share: 0.5, low: 0.42, high: 0.58 }), "50 % (42 to 58 %)");
});

test("copies beside a sound keep its own edits below theirs", () => {
  const slot = {
    version: "v",
    position: "1",
    knobs: {},
    switches: {},
    edits: [{ path: ["a", "b"], value: "1" }],
  };
  const [one, other] = besideSlots(slot, [[{ path: ["a"], value: "2" }], [{ path: ["c"], value: "3" }]]);
  assert.deepEqual(one.edits, [{ path: ["a"], value: "2" }]);
  assert.equal(other.edits.length, 2);
  assert.equal(slot.edits.length, 1);
});
