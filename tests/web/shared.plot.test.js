import assert from "node:assert/strict";
import { test } from "node:test";
import {
  frequencyTicks,
  hillPath,
  layOutPlot,
  levelRange,
  levelTicks,
  linear,
  logarithmic,
  nearestIndex,
  pathOf,
  SHOWN_DB,
  tableRows,
  usedTravel,
} from "../../web/js/shared/plot.js";
import { sweepAt, sweepInWords, sweepOf, sweepProblem } from "../../web/js/bench/sweeps.js";

test("scales go there and back, octaves are evenly wide", () => {
  const x = logarithmic([20, 20000], [0, 300]);
  assert.ok(Math.abs(x.to(200) - 100) < 1e-9 && Math.abs(x.to(2000) - 200) < 1e-9);
  for (const hz of [20, 440, 12345]) assert.ok(Math.abs(x.from(x.to(hz)) - hz) < 1e-9 * hz);
  assert.equal(linear([0, 10], [100, 0]).to(2.5), 75);
});

test("ticks are 1, 2, 5 of each decade within the range", () => {
  assert.deepEqual(frequencyTicks(40, 20000), [50, 100, 200, 500, 1000, 2000, 5000, 10000, 20000]);
  assert.deepEqual(levelTicks([-42, 12]), [-36, -24, -12, 0, 12]);
});

test("the range includes the loudest, and silence has a range too", () => {
  const [low, high] = levelRange([
    [null, 3],
    [7.2, -90],
  ]);
  assert.ok(high >= 7.2 && high % 6 === 0 && high - low === SHOWN_DB);
  assert.deepEqual(levelRange([[null]]), [6 - SHOWN_DB, 6]);
});

test("a curve has gaps without values, and starts at the edge of the picture", () => {
  const x = linear([0, 4], [0, 4]),
    y = linear([-10, 0], [10, 0]);
  assert.equal(
    pathOf([0, 1, 2, 3, 4], [-1, -2, null, -3, -4], x, y, [-10, 0]),
    "M0.0 1.0L1.0 2.0M3.0 3.0L4.0 4.0",
  );
  assert.equal(pathOf([1, 2, 3], [0, 0, 0], x, y, [-10, 0], 2), "M2.0 0.0L3.0 0.0");
});

test("the nearest frequency is the nearest by ratio", () => {
  const hz = [100, 200, 400, 800];
  assert.equal(nearestIndex(hz, 282), 1); // the geometric middle of 200 and 400 is 282.8
  assert.equal(nearestIndex(hz, 283), 2);
  assert.equal(nearestIndex(hz, 1), 0);
  assert.equal(nearestIndex(hz, 1e6), 3);
});

test("the table reads the curves at its own frequencies", () => {
  const hz = [50, 125, 1000, 5000],
    rows = tableRows(hz, [[0, 1, 2, 3]]);
  assert.deepEqual(
    rows.find((row) => row.hz === 1000),
    { hz: 1000, levels: [2] },
  );
  assert.ok(rows.every((row) => row.hz <= 5000));
});

test("the hill is flat for an even knob and empty for an idle one", () => {
  assert.equal(hillPath([0, 0, 0], 100, 20), "");
  assert.match(hillPath([1, 1], 100, 20), /^M0 20L25.0 0.0L75.0 0.0L100 20Z$/);
});

test("used travel: all of it when even, a tenth when all happens in one place", () => {
  assert.equal(usedTravel(Array(10).fill(1)), 0.9);
  assert.equal(usedTravel([0, 0, 9, 0, 0, 0, 0, 0, 0, 0]), 0.1);
  assert.equal(usedTravel([0, 0]), 0);
});

test("a sweep goes there and back at its own pace", () => {
  const sweep = { from: 10, to: 0, seconds: 4 };
  assert.deepEqual(
    [0, 2, 4, 6, 8].map((s) => sweepAt(sweep, s)),
    [10, 5, 0, 5, 10],
  );
});

test("an impossible sweep says why, and a wrongly stored one is not played", () => {
  assert.equal(sweepProblem({ from: 10, to: 0, seconds: 6 }), "");
  assert.match(sweepProblem({ from: 11, to: 0, seconds: 6 }), /^from: 0 to 10/);
  assert.match(sweepProblem({ from: 1, to: NaN, seconds: 6 }), /^to: 0 to 10/);
  assert.match(sweepProblem({ from: 1, to: 0, seconds: 0.1 }), /^seconds: 0.5 to 60/);
  assert.match(sweepProblem({ from: 3, to: 3, seconds: 6 }), /would not move/);
  assert.deepEqual(sweepOf(undefined), { from: 10, to: 0, seconds: 6 });
  assert.deepEqual(sweepOf({ from: 7, to: 2 }), { from: 7, to: 2, seconds: 6 });
  assert.deepEqual(sweepOf({ from: 7, to: 7 }), { from: 10, to: 0, seconds: 6 });
  assert.equal(sweepInWords({ from: 7, to: 2, seconds: 3 }), "7.0 to 2.0 and back, 3.0 s each way");
});

test("a plot is laid out with its grid, its labels and its curves", () => {
  const plot = layOutPlot({
    wide: 600,
    tall: 300,
    hz: [20, 20000],
    range: [-42, 12],
    unit: "dB re EMF over Hz",
  });
  const { x: left, y: top, width, height } = plot.frame;
  assert.deepEqual([plot.x.to(20), plot.x.to(20000)].map(Math.round), [left, left + width]);
  assert.deepEqual([plot.y.to(12), plot.y.to(-42)], [top, top + height]);
  assert.equal(plot.lines.filter(({ zero }) => zero).length, 1);
  assert.deepEqual(
    plot.texts.map(({ text }) => text),
    [
      ..."50,100,200,500,1 k,2 k,5 k,10 k,20 k".split(","),
      "−36",
      "−24",
      "−12",
      "0",
      "+12",
      "dB re EMF over Hz",
      "Hz",
    ],
  );
  assert.equal(
    plot.path([10, 20, 20000], [0, 12, -42]),
    `M${left}.0 ${top}.0L${left + width}.0 ${top + height}.0`,
  );
  const narrow = layOutPlot({ wide: 300, tall: 300, hz: [20, 20000], range: [-42, 12] });
  assert.deepEqual(
    narrow.texts.slice(0, 5).map(({ text }) => text),
    ["50", "200", "1 k", "5 k", "20 k"],
  );
});
