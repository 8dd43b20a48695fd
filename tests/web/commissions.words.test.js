import assert from "node:assert/strict";
import { test } from "node:test";
import { chartInWords, lackOf, shaftOf, withToggled, wordsOf } from "../../web/js/commissions/words.js";

/** @import {Layout, Made} from "../../web/js/commissions/words.js" */

/** @type {Layout} */
const LAYOUT = {
  name: "two",
  title: "Two",
  about: "",
  answers: { neck: "single", bridge: "single" },
  switch: "toggle_3_selector",
  second: "",
  sounds: null,
};
/** @param {Partial<Made>} more @returns {Made} */
const made = (more = {}) => ({
  text: "format: 1",
  sounds: ["neck", "neck with bridge", "bridge"].map((words) => ({
    words,
    expression: words,
    network: { kind: "coil", name: words },
    usual: true,
  })),
  chosen: ["neck", "bridge"],
  stands: ["1", "2", "3"],
  apart: false,
  values: "",
  problems: [],
  ...more,
});

test("a sound that is ticked takes its place between its neighbours", () => {
  assert.deepEqual(withToggled(made(), "neck with bridge", false), ["neck", "neck with bridge", "bridge"]);
  assert.deepEqual(withToggled(made(), "neck with bridge", true), ["neck", "bridge", "neck with bridge"]);
  assert.deepEqual(withToggled(made(), "neck", false), ["bridge"]);
});

test("a push-pull takes the shaft of the one tone, else of the one volume", () => {
  const words = { ...wordsOf(LAYOUT), second: "push_pull" };
  assert.equal(shaftOf(words), "tone");
  assert.equal(shaftOf({ ...words, answers: { ...words.answers, tones: "none" } }), "volume");
  assert.equal(shaftOf({ ...words, answers: { volumes: "each", tones: "each" } }), "");
  assert.equal(shaftOf({ ...words, second: "toggle_on_on" }), "");
});

test("what is lacking is said", () => {
  const words = wordsOf(LAYOUT);
  assert.equal(lackOf(made(), words), "");
  assert.equal(lackOf(made({ text: null, chosen: [] }), words), "Tick one sound at least.");
  const problems = [{ where: "sounds", got: "4 sounds for 3 positions", allowed: "3 at most" }];
  assert.equal(lackOf(made({ text: null, problems }), words), "4 sounds for 3 positions: 3 at most.");
  assert.match(
    lackOf(made({ sounds: made().sounds.slice(0, 1) }), { ...words, range: true }),
    /nothing to choose/,
  );
});

test("the chart's way in words", () => {
  const news = { id: "x", after: 0, state: "running" };
  assert.match(chartInWords(null), /sketch/);
  assert.match(
    chartInWords({ ...news, chart: { poles: 2, wires: 5, about: "", final: false } }),
    /2 poles, 5 wires/,
  );
});
