import assert from "node:assert/strict";
import { test } from "node:test";
import { drawNetwork, drawSketch, networkInWords } from "../../web/js/drawing/network.js";
import { svgText } from "../../web/js/drawing/nodes.js";

/** @import {Network} from "../../web/js/drawing/types.js" */

/** @param {string} name @returns {Network} */
const coil = (name, turned = false) => ({ kind: "coil", name, turned });
/** @param {Network[]} members @returns {Network} */
const series = (...members) => ({ kind: "series", members });
/** @param {Network[]} members @returns {Network} */
const parallel = (...members) => ({ kind: "parallel", members });

/**
 * The two ends of every wire and part of a picture, read from the picture alone; joined points are one node.
 *
 * @param {string} svg
 */
function netOf(svg) {
  /** @type {Map<string, string>} */
  const parent = new Map();
  /** @type {(at: string) => string} */
  const root = (at) => {
    const above = parent.get(at) ?? at;
    return above === at ? at : root(above);
  };
  for (const [, d] of svg.matchAll(/<path d="([^"]*)" class="network-wire"/g)) {
    const points = d.slice(1).split("L");
    for (let k = 1; k < points.length; k++) parent.set(root(points[k]), root(points[k - 1]));
    // a point on a straight wire is joined to it
    const [[x1, y1], [x2, y2]] = [points[0], points[points.length - 1]].map((one) =>
      one.split(" ").map(Number),
    );
    for (const [, e] of svg.matchAll(/<path d="([^"]*)" class="network-wire"/g))
      for (const point of e.slice(1).split("L")) {
        const [x, y] = point.split(" ").map(Number);
        const on = x1 === x2 ? x === x1 && y >= Math.min(y1, y2) && y <= Math.max(y1, y2) : false;
        if (on) parent.set(root(point), root(points[0]));
      }
  }
  return [
    ...svg.matchAll(
      /class="network-part (\w+)" transform="translate\(([\d.]+) ([\d.]+)\)( scale\(-1 1\))?"/g,
    ),
  ].map(([, kind, x, y, mirrored]) => {
    const ends = [Number(x) - 19, Number(x) + 19].map((at) => root(`${at} ${y}`));
    return { kind, ends: mirrored ? ends.reverse() : ends };
  });
}

test("members in series share one node, in their order", () => {
  const [a, b, c] = netOf(svgText(drawNetwork(series(coil("a"), coil("b"), coil("c"))).node));
  assert.equal(a.ends[1], b.ends[0]);
  assert.equal(b.ends[1], c.ends[0]);
  assert.notEqual(a.ends[0], c.ends[1]);
});

test("members in parallel share both nodes, a turned one the other way round", () => {
  const [a, b] = netOf(svgText(drawNetwork(parallel(coil("a"), coil("b", true))).node));
  assert.equal(a.ends[0], b.ends[1]);
  assert.equal(a.ends[1], b.ends[0]);
  assert.notEqual(a.ends[0], a.ends[1]);
});

test("groups within groups keep their nodes", () => {
  const network = series(
    { kind: "capacitor", name: "cut" },
    parallel(series(coil("a"), coil("b")), coil("c")),
  );
  const [cut, a, b, c] = netOf(svgText(drawNetwork(network).node));
  assert.equal(cut.kind, "capacitor");
  assert.equal(cut.ends[1], a.ends[0]);
  assert.equal(a.ends[0], c.ends[0]);
  assert.equal(a.ends[1], b.ends[0]);
  assert.equal(b.ends[1], c.ends[1]);
});

test("nothing lies outside the picture's own size", () => {
  const { width, height, node } = drawNetwork(
    parallel(series(coil("a"), coil("b")), parallel(coil("c"), coil("d"))),
  );
  for (const [, x, y] of svgText(node).matchAll(/([\d.]+) ([\d.]+)/g)) {
    assert.ok(Number(x) <= width, `${x} of ${width}`);
    assert.ok(Number(y) <= height, `${y} of ${height}`);
  }
});

test("a network reads aloud", () => {
  assert.equal(
    networkInWords(parallel(series(coil("neck_a"), coil("neck_b")), coil("bridge", true))),
    "(neck a and neck b in series) and bridge reversed in parallel",
  );
  assert.equal(networkInWords(coil("neck")), "neck");
});

test("a sketch breaks its rows at the width, each sound once with its label", () => {
  const sounds = ["1", "2", "3"].map((position) => ({
    position,
    label: `Sound ${position}`,
    network: coil("a"),
  }));
  const [narrow, wide] = [drawSketch(sounds, 100), drawSketch(sounds, 2000)];
  assert.ok(narrow.height > 2 * wide.height);
  assert.ok(narrow.width <= wide.width);
  assert.equal([...svgText(narrow.node).matchAll(/>\d {2}Sound \d</g)].length, 3);
  assert.deepEqual(drawSketch([], 500).height, 0);
});
