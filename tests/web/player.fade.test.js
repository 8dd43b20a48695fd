import assert from "node:assert/strict";
import test from "node:test";

import { FADE, PLAY_RAMP, Ramp, raisedCosine } from "../../web/js/player/fade.js";

test("fades last 20 ms and ramps 10 ms at 48 kHz", () => {
  assert.equal(FADE, 0.02 * 48000);
  assert.equal(PLAY_RAMP, 0.01 * 48000);
});

test("the gains of both voices of a fade add up to 1", () => {
  const rise = raisedCosine(FADE);
  for (let i = 0; i < FADE; i++) {
    assert.ok(Math.abs(rise[i] + rise[FADE - 1 - i] - 1) < 1e-15); // one is the other backwards
    assert.ok(i === 0 || rise[i] > rise[i - 1]);
  }
  assert.ok(rise[0] > 0 && rise[0] < 1e-5 && rise[FADE - 1] < 1);
});

test("a ramp moves evenly, arrives exactly and stays", () => {
  const ramp = new Ramp(0.1, 480);
  ramp.to(0.7);
  const values = Array.from({ length: 600 }, () => ramp.next());
  const steps = values.slice(0, 480).map((v, i) => v - (i ? values[i - 1] : 0.1));
  assert.ok(steps.every((step) => Math.abs(step - 0.6 / 480) < 1e-12));
  assert.equal(values[479], 0.7);
  assert.equal(values[599], 0.7);
});

test("a ramp with a new target goes on from its present value", () => {
  const ramp = new Ramp(0, 100);
  ramp.to(1);
  for (let i = 0; i < 50; i++) ramp.next();
  ramp.to(0);
  assert.ok(Math.abs(ramp.next() - (0.5 - 0.005)) < 1e-12);
  ramp.jump(3);
  assert.equal(ramp.next(), 3);
});
