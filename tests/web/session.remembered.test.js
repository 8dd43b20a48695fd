import assert from "node:assert/strict";
import { test } from "node:test";
import { recall, stateToSave } from "../../web/js/session/remembered.js";

/** The largest state that the server stores, bytes (the contract of the page). */
const MOST_BYTES = 32 * 1024;
/** @param {number} count of edits in each step @param {number} steps */
function state(count, steps) {
  const edits = Array.from({ length: count }, (_, k) => ({
    path: ["parts", `neck_coil_${k}`, "resistance"],
    value: "4.15 kΩ",
  }));
  const slots = Array.from({ length: 4 }, () => ({
    version: "v",
    edits,
    position: "1",
    knobs: { tone: 10 },
    switches: {},
  }));
  const histories = slots.map(() => ({ past: Array(steps).fill(edits), now: edits, future: [] }));
  return {
    slots,
    histories,
    current: 0,
    take: "",
    loops: {},
    matched: false,
    drawer: false,
    string: null,
    fanned: "",
    sweeps: {},
  };
}
/** @param {object} kept */
const bytes = (kept) => Buffer.byteLength(JSON.stringify(kept));

test("undo steps are dropped first, and the edits never", () => {
  const small = stateToSave(state(2, 50)),
    large = stateToSave(state(40, 50));
  assert.equal(small.histories[0].past.length, 12);
  assert.ok(bytes(small) <= MOST_BYTES && bytes(large) <= MOST_BYTES);
  assert.ok(large.histories[0].past.length < 12);
  assert.equal(large.slots[0].edits.length, 40);
});

test("a commission that was never opened may still name the take to begin with", () => {
  globalThis.localStorage = /** @type {any} */ ({ getItem: () => null });
  const commission = /** @type {any} */ ({ id: "one", wirings: [] });
  assert.deepEqual(recall({ ...commission, state: { take: "demo:four_strings" } }), {
    take: "demo:four_strings",
  });
  assert.deepEqual(recall({ ...commission, state: { take: 4 } }), {});
  assert.deepEqual(recall({ ...commission, state: {} }), {});
});

test("the room of the hum is remembered, and no page opens with hum", () => {
  const wirings = [{ id: "w", versions: [{ id: "v", number: 1 }] }],
    slots = [{ version: "v", edits: [], position: "1", knobs: {}, switches: {} }];
  /** @param {unknown} hum */
  const recalled = (hum) =>
    recall(/** @type {any} */ ({ id: "c", wirings, state: { slots, current: 0, hum, saved: 1 } })).hum;
  assert.deepEqual(recalled({ on: true, room: "amplifier", mains: 60 }), {
    on: false,
    room: "amplifier",
    mains: 60,
  });
  assert.deepEqual(recalled({ on: true, room: 7 }), { on: false, room: "stage", mains: 50 });
  assert.equal(recalled(undefined), undefined);
});
