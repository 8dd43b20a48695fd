import assert from "node:assert/strict";
import { test } from "node:test";
import {
  CONTOURS,
  SHADES,
  contourPath,
  distancesFrom,
  fieldOf,
  placeText,
  shadeOf,
  shadePaths,
  tableRows,
} from "../../web/js/bench/pair.js";

const N = 5;
/**
 * A map whose two bands tilt by 8 dB over the first knob and by 4 dB over the second; silent with the first
 * knob at 0.
 */
function tilted() {
  const at = (/** @type {(i: number, j: number) => any} */ make) =>
    Array.from({ length: N }, (_, i) => Array.from({ length: N }, (_, j) => make(i, j)));
  const tilt = (/** @type {number} */ i, /** @type {number} */ j) => 200 * i + 100 * j;
  return {
    knobs: /** @type {[string, string]} */ (["volume", "tone"]),
    values: [0, 2.5, 5, 7.5, 10],
    timbre: at((i, j) => (i === 0 ? [0, 0] : [tilt(i, j), -tilt(i, j)])),
    level_db: at((i) => (i === 0 ? null : 3 * (i - 4))),
    distance_db: at((i, j) => (i === 0 ? null : 2 * (4 - i) + (4 - j))),
    rows: [10, 7.5, 5].map((value) => ({ value, width_db: 4, evenness: 1, level_db: 0, changed_db: 0 })),
    text: "",
  };
}
/** The bounds of a path's points. @param {string} path */
function bounds(path) {
  const points = [...path.matchAll(/[ML](-?[\d.]+) (-?[\d.]+)/g)].map(([, x, y]) => [Number(x), Number(y)]);
  const xs = points.map(([x]) => x),
    ys = points.map(([, y]) => y);
  return { left: Math.min(...xs), right: Math.max(...xs), top: Math.min(...ys), bottom: Math.max(...ys) };
}

test("distances are those of the timbres, also between the values", () => {
  const field = fieldOf(tilted()),
    { side } = field,
    found = distancesFrom(field, 10, 10);
  const at = (/** @type {number} */ first, /** @type {number} */ second) =>
    found[Math.round((first / 10) * (side - 1)) * side + Math.round((second / 10) * (side - 1))];
  assert.equal(at(10, 10), 0);
  assert.ok(Math.abs(at(5, 10) - 4) < 1e-5);
  assert.ok(Math.abs(at(10, 0) - 4) < 1e-5);
  assert.ok(Math.abs(at(6.25, 8.75) - 3.5) < 1e-5, "blended between the values given");
  assert.ok(Number.isNaN(at(0, 5)), "nothing is heard there");
  assert.ok(Math.abs(at(1.875, 10) - (6 + 0)) < 0.51, "silence does not bend the timbre beside it");
});

test("a contour lies where the distance has its value", () => {
  const field = fieldOf(tilted()),
    found = distancesFrom(field, 10, 10);
  const { left, right, top, bottom } = bounds(contourPath(found, field.side, 100, 2));
  assert.ok(Math.abs(right - 100) < 0.2 && Math.abs(bottom - 50) < 0.2, "2 dB down the second knob: 5 of 10");
  assert.ok(Math.abs(left - 75) < 0.2 && Math.abs(top) < 0.2, "2 dB down the first knob: 7.5 of 10");
  assert.equal(contourPath(found, field.side, 100, 50), "");
});

test("shades cover the map once, the silent part for itself", () => {
  const field = fieldOf(tilted()),
    paths = shadePaths(distancesFrom(field, 10, 10), field.side, 160);
  assert.equal(paths.length, CONTOURS.length + 2);
  const area = (/** @type {string} */ path) =>
    [...path.matchAll(/h(-?[\d.]+)v(-?[\d.]+)/g)].reduce(
      (sum, [, wide, tall]) => sum + Number(wide) * Number(tall),
      0,
    );
  const whole = paths.reduce((sum, path) => sum + area(path), 0);
  assert.ok(Math.abs(whole - 160 * 160) < 1, String(whole));
  assert.ok(area(paths[CONTOURS.length + 1]) > 0);
  assert.deepEqual([0, 0.99, 1, 3, 7.9, 30].map(shadeOf), [0, 0, 1, 2, 3, 4]);
  assert.equal(SHADES.length, CONTOURS.length + 1);
});

test("the text of a place names its knobs, its timbre and its level", () => {
  const pair = tilted();
  assert.equal(placeText(pair, 10, 10), "Volume 10.0, tone 10.0: 0.0 dB of timbre from both at 10, as loud.");
  assert.equal(
    placeText(pair, 5, 2.5),
    "Volume 5.0, tone 2.5: 7.0 dB of timbre from both at 10, 6.0 dB softer.",
  );
  assert.equal(placeText(pair, 0, 2.5), "Volume 0.0, tone 2.5: silent.");
  assert.equal(placeText({ ...pair, distance_db: null }, 5, 5), "Volume 5.0, tone 5.0: 6.0 dB softer.");
  assert.deepEqual(
    tableRows(pair).map(({ value }) => value),
    [10, 5],
  );
});
