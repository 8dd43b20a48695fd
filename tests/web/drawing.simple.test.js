/** Pictures without what only a builder needs. */

import assert from "node:assert/strict";
import { test } from "node:test";
import { node, svgText } from "../../web/js/drawing/nodes.js";
import { simplified } from "../../web/js/drawing/simple.js";

const drawn = node(
  "g",
  { class: "drawing mode-sound" },
  node(
    "g",
    { class: "lug level-2" },
    node("title", {}, "volume 3"),
    node("circle", { class: "pad" }),
    node("text", { class: "lug-name" }, "3"),
  ),
  node("g", { class: "wire level-2" }, node("path", { class: "outer" }), node("path", { class: "hit" })),
  node("text", { class: "name" }, "volume"),
);

test("a full picture stays as it is", () => assert.equal(simplified(drawn, "full"), drawn));

test("a simple one keeps names and wires, without lugs", () => {
  const text = svgText(simplified(drawn, "simple"));
  assert.match(text, /class="drawing mode-sound simple"/);
  assert.match(text, />volume</);
  assert.match(text, /class="outer"/);
  assert.doesNotMatch(text, /lug-name|pad|"hit"/);
});

test("a small one has no words", () => {
  const text = svgText(simplified(drawn, "small"));
  assert.doesNotMatch(text, /<text|<title/);
  assert.match(text, /class="outer"/);
});
