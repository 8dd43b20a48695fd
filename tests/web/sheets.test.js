/** The build sheet's words, and which steps a wire of the drawing stands for. */

import assert from "node:assert/strict";
import { test } from "node:test";
import { stepsOf } from "../../web/js/sheets/article.js";
import { fitText, goneText, lostText, progressText } from "../../web/js/sheets/words.js";

test("a wire is its own step, a stub to ground all ground steps at its lug", () => {
  const steps = ["a.1~b.2", "volume.1~output.sleeve", "volume.1~tone.1", "strings"];
  assert.deepEqual(stepsOf("a.1~b.2", steps), ["a.1~b.2"]);
  assert.deepEqual(stepsOf("volume.1~", steps), ["volume.1~output.sleeve", "volume.1~tone.1"]);
  assert.deepEqual(stepsOf("x.1~y.2", steps), []);
});

test("progress names the next step", () => {
  const step = (done, text) => ({ done, text, number: "7" });
  assert.equal(progressText([step(true, "a"), step(false, "b to c")]), "1 of 2 done. Next: 7 b to c");
  assert.equal(progressText([step(true, "a")]), "All 1 done.");
});

test("the page names ticks that no longer hold", () => {
  assert.equal(lostText(0, 0), "");
  assert.match(lostText(1, 0), /1 step changed and lost its tick\.$/);
  assert.match(lostText(2, 1), /2 steps changed and lost their ticks; 1 thing that you did is no longer/);
  assert.equal(goneText("a.1~b.2", "a 1 to b 2"), "Unsolder: a 1 to b 2");
  assert.equal(goneText("meter 1", "8 kΩ"), "Was done: 8 kΩ");
});

test("a sheet too large for three pages says so", () => {
  assert.equal(fitText({ pages: 2, size_pt: 8, large: false }, "a4"), "2 pages of A4");
  assert.match(fitText({ pages: 5, size_pt: 5.5, large: true }, "letter"), /^Too large .* 5 pages of Letter/);
});
