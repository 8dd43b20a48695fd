import assert from "node:assert/strict";
import test from "node:test";

import { BLOCK, WARM_BLOCK } from "../../web/js/player/bank.js";
import { Deck } from "../../web/js/player/deck.js";
import { FADE, PLAY_RAMP } from "../../web/js/player/fade.js";
import { readFrame } from "../../web/js/player/frames.js";
import { CEILING } from "../../web/js/player/between.js";
import { LOOK_AHEAD } from "../../web/js/player/guard.js";
import { Loop, fittingLoop } from "../../web/js/player/loop.js";
import { SAME, bytes, cases, difference, stems } from "./player_help.js";

const OPEN = { output: 1, loudest: 200 };

/** A deck and its messages. @param {object} [options] */
function deckOf(options = OPEN) {
  /** @type {any[]} */
  const messages = [];
  return { deck: new Deck((message) => messages.push(message), options), messages };
}

/** @param {Deck} deck @param {number} n @param {(clock: number) => void} [before] */
function play(deck, n, before) {
  const out = new Float64Array(n),
    block = new Float64Array(BLOCK);
  for (let at = 0; at + BLOCK <= n; at += BLOCK) {
    before?.(at);
    deck.block(block, BLOCK);
    out.set(block, at);
  }
  return out;
}

/** Blocks that warming takes before a fade can begin. @param {number} warm */
const blocksOf = (warm) => Math.max(0, Math.ceil((warm - WARM_BLOCK) / (WARM_BLOCK - BLOCK)));

for (const name of ["still", "flip", "sweep"]) {
  test(`the player makes of "${name}" what dsp renders`, () => {
    const one = cases[name],
      { deck, messages } = deckOf();
    const frames = one.frames.map((/** @type {string} */ text) => readFrame(bytes(text)));
    deck.keep("take", stems(one.coils, one.samples));
    deck.ask({ key: "take", frame: frames[0] });
    play(deck, BLOCK * (2 + blocksOf(one.warm[0]))); // warmed while nothing plays
    deck.setPlaying(true);
    deck.play.jump(1); // dsp has no ramp at the start
    const due = new Map(
      one.starts.map((/** @type {number} */ at, /** @type {number} */ i) => [
        at - BLOCK * blocksOf(one.warm[i + 1]),
        i + 1,
      ]),
    );
    const out = play(deck, 23 * 1024, (clock) => {
      if (due.has(clock)) deck.ask({ frame: frames[due.get(clock)] });
    });
    assert.deepEqual(
      messages
        .filter((m) => m.type === "applied")
        .slice(1)
        .map((m) => m.clock),
      one.starts,
    );
    const late = one.delay + LOOK_AHEAD;
    const ours = one.output
      .flatMap((/** @type {number} */ _, /** @type {number} */ i) => out[i * one.every + late] ?? [])
      .slice(0, 380);
    assert.equal(ours.length, 380);
    assert.ok(difference(ours, one.output.slice(0, 380)) <= SAME);
    assert.ok(Math.max(...ours) > 0.01);
  });
}

/** A deck that plays the sweep's first setting. @param {object} [options] */
function playing(options) {
  const made = deckOf(options),
    one = cases.sweep;
  const frames = one.frames.map((/** @type {string} */ text) => readFrame(bytes(text)));
  made.deck.keep("take", stems(one.coils, one.samples));
  made.deck.ask({ key: "take", frame: frames[0] });
  made.deck.setPlaying(true);
  play(made.deck, 50 * BLOCK);
  return { ...made, frames };
}

test("of requests during a fade only the newest sounds", () => {
  const { deck, messages, frames } = playing();
  messages.length = 0;
  deck.ask({ frame: frames[2] });
  play(deck, 3 * BLOCK);
  for (const i of [1, 3, 1, 4]) deck.ask({ frame: frames[i] });
  play(deck, 40 * BLOCK);
  assert.deepEqual(
    messages.filter((m) => m.type === "applied").map((m) => m.id),
    [3, 5],
  );
  assert.equal(deck.voice?.frame.id, 5);
  assert.equal(deck.coming, null);
  const [first, second] = messages.map((m) => m.clock);
  assert.ok(second - first >= FADE);
});

test("filters that come between two blocks are ready before the next, and sound the same", () => {
  const sounds = [false, true].map((early) => {
    const { deck, messages, frames } = playing();
    messages.length = 0;
    deck.ask({ frame: frames[2] });
    if (early) {
      deck.getReady();
      assert.deepEqual(messages, [{ type: "applied", id: 3, clock: deck.clock }]);
    } else assert.equal(messages.length, 0);
    return play(deck, 20 * BLOCK);
  });
  assert.deepEqual(sounds[0], sounds[1]);
});

test("another loop, place or take waits for the next block, as more of the wish may follow", () => {
  for (const more of [{ loop: [0, 4800] }, { seek: 10 }, { key: "other" }]) {
    const { deck, messages, frames } = playing();
    deck.keep("other", stems(cases.sweep.coils, 9600));
    messages.length = 0;
    deck.ask({ frame: frames[2], .../** @type {object} */ (more) });
    deck.getReady();
    assert.equal(messages.length, 0);
    play(deck, 10 * BLOCK);
    assert.equal(messages.length, 1);
  }
});

test("play and pause are ramps of 10 ms, and the place is kept", () => {
  const { deck } = playing();
  deck.setPlaying(false);
  const out = play(deck, 10 * BLOCK),
    at = deck.position;
  assert.ok(out.subarray(0, PLAY_RAMP).some((v) => v !== 0));
  assert.ok(out.subarray(PLAY_RAMP + LOOK_AHEAD).every((v) => v === 0));
  play(deck, 10 * BLOCK);
  assert.equal(deck.position, at);
  deck.setPlaying(true);
  play(deck, BLOCK);
  assert.equal(deck.position, at + BLOCK);
});

test("a request during a pause sounds from the next play on, without a fade", () => {
  const { deck, frames, messages } = playing();
  deck.setPlaying(false);
  play(deck, 8 * BLOCK);
  messages.length = 0;
  deck.ask({ frame: frames[1] });
  play(deck, 3 * BLOCK);
  assert.equal(deck.voice?.frame.id, 2);
  assert.deepEqual(
    messages.map((m) => m.id),
    [2],
  );
});

test("other stems keep the time, and fade", () => {
  const { deck } = playing(),
    before = deck.position;
  deck.keep(
    "other",
    stems(4, 20000).map((stem) => stem.map((v) => -v)),
  );
  deck.ask({ key: "other" });
  play(deck, BLOCK);
  assert.equal(deck.position, before + BLOCK);
  assert.ok(deck.coming);
  play(deck, 12 * BLOCK);
  assert.equal(deck.voice?.key, "other");
  assert.equal(deck.voice?.tape.loop.end, 20000);
});

test("stems of another wiring wait for its filters", () => {
  const { deck } = playing(),
    bank = readFrame(bytes(cases.bank.frame));
  deck.keep("two", stems(2, 30000));
  deck.ask({ key: "two" });
  play(deck, 12 * BLOCK);
  assert.equal(deck.voice?.key, "take");
  deck.ask({ frame: bank });
  play(deck, 20 * BLOCK);
  assert.equal(deck.voice?.key, "two");
  assert.equal(deck.voice?.frame.id, bank.id);
});

test("stems that were dropped play on, in another loop too", () => {
  const { deck } = playing();
  deck.drop("take");
  deck.ask({ loop: [4800, 9600] });
  play(deck, 30 * BLOCK);
  assert.ok(deck.position >= 4800 && deck.position < 9600);
});

test("a loop is kept to, and a place outside it becomes its start", () => {
  const { deck } = playing();
  deck.ask({ loop: [9600, 14400] });
  play(deck, 12 * BLOCK);
  for (let i = 0; i < 200; i++) {
    play(deck, BLOCK);
    assert.ok(deck.position >= 9600 && deck.position < 14400);
  }
  deck.ask({ seek: 14000 });
  play(deck, BLOCK);
  assert.equal(deck.position, 14000 + BLOCK);
});

test("a later level belongs to the same filters: a ramp and no fade", () => {
  const { deck, messages, frames } = playing();
  deck.setMatched(true);
  play(deck, 30 * BLOCK);
  messages.length = 0;
  for (const key of [undefined, "take"]) {
    deck.ask({ frame: { ...frames[0], matchGainDb: -6 }, ...(key && { key }) });
    play(deck, 30 * BLOCK);
    assert.equal(messages.length, 0);
  }
  assert.ok(Math.abs((deck.voice?.match.value ?? 0) - 10 ** (-6 / 20)) < 1e-12);
});

test("an unknown level uses the previous one: no jump between matched settings", () => {
  const { deck, frames } = playing();
  deck.ask({ frame: { ...frames[1], matchGainDb: -12 } });
  play(deck, 20 * BLOCK);
  deck.ask({ frame: { ...frames[2], matchGainDb: NaN } });
  play(deck, 20 * BLOCK);
  assert.equal(deck.voice?.frame.id, 3);
  assert.equal(deck.voice?.match.value, 10 ** (-12 / 20));
});

test("matched settings have their gain, as-wired ones a gain of 1", () => {
  const loud = playing().deck,
    soft = playing().deck;
  for (const deck of [loud, soft])
    deck.ask({
      frame: {
        ...cases.sweep.frames.map((/** @type {string} */ t) => readFrame(bytes(t)))[1],
        matchGainDb: -12,
      },
    });
  soft.setMatched(true);
  const a = play(loud, 100 * BLOCK),
    b = play(soft, 100 * BLOCK);
  for (let i = 60 * BLOCK; i < 100 * BLOCK; i++) assert.ok(Math.abs(b[i] - a[i] * 10 ** (-12 / 20)) < 1e-12);
});

test("nothing sounds before the page has set the output", () => {
  const { deck } = playing({});
  assert.ok(play(deck, 20 * BLOCK).every((v) => v === 0));
  deck.setOutput(1);
  assert.ok(play(deck, 20 * BLOCK).some((v) => v !== 0));
});

test("the gain of settings as wired comes with the sound and stays until another comes", () => {
  const [plain, raised] = [playing().deck, playing().deck];
  const { frames } = playing();
  for (const [deck, gainDb] of /** @type {[Deck, number | undefined][]} */ ([
    [plain, undefined],
    [raised, 12],
  ])) {
    deck.ask({ key: "take", frame: { ...frames[1], matchGainDb: Infinity }, gainDb });
    play(deck, 20 * BLOCK);
    deck.ask({ frame: { ...frames[2], matchGainDb: Infinity } }); // a knob: the gain is kept
    play(deck, 20 * BLOCK);
  }
  const a = play(plain, 40 * BLOCK),
    b = play(raised, 40 * BLOCK);
  for (let i = 0; i < a.length; i++) assert.ok(Math.abs(b[i] - a[i] * 10 ** (12 / 20)) < 1e-12);
});

test("another gain for the same filters is a fade, not a jump", () => {
  const { deck, frames } = playing();
  deck.ask({ key: "take", frame: { ...frames[1], matchGainDb: -3 } });
  play(deck, 30 * BLOCK);
  deck.ask({ key: "take", frame: { ...frames[1], matchGainDb: -3 }, gainDb: 6 });
  play(deck, 2 * BLOCK);
  assert.ok(deck.coming);
  play(deck, 30 * BLOCK);
  assert.ok(Math.abs((deck.voice?.wired ?? 0) - 10 ** (6 / 20)) < 1e-12);
});

test("a flip to a much louder setting stays within the loudness limit", () => {
  const { deck, frames } = playing({ output: 1, loudest: -14 });
  deck.ask({ frame: { ...frames[1], matchGainDb: -20 } }); // 0 LUFS at 1 V: 14 dB too loud
  play(deck, 20 * BLOCK);
  const held = play(deck, 40 * BLOCK);
  const free = playing().deck;
  free.ask({ frame: { ...frames[1], matchGainDb: -20 } });
  play(free, 20 * BLOCK);
  const open = play(free, 40 * BLOCK);
  for (let i = 0; i < held.length; i++) assert.ok(Math.abs(held[i] - open[i] * 10 ** (-14 / 20)) < 1e-12);
});

test("the output never exceeds the ceiling", () => {
  const { deck, frames } = playing();
  deck.keep(
    "hot",
    stems(4, 24000).map((stem) => stem.map((v) => 400 * v)),
  );
  deck.ask({ key: "hot", frame: frames[4] });
  const out = play(deck, 150 * BLOCK);
  assert.ok(out.every((v) => Math.abs(v) <= CEILING));
  assert.ok(out.some((v) => Math.abs(v) > 0.9 * CEILING));
});

test("samples that are not numbers are muted and reported, and sound returns after them", () => {
  const { deck, messages } = playing();
  const broken = stems(4, 24000);
  for (let i = 7000; i < 7100; i++) broken[1][i] = NaN;
  deck.keep("broken", broken);
  deck.ask({ key: "broken", seek: 6000 });
  const out = play(deck, 60 * BLOCK);
  assert.ok(out.every(Number.isFinite));
  assert.ok(messages.some((m) => m.type === "muted"));
  assert.ok(out.subarray(40 * BLOCK).some((v) => Math.abs(v) > 0.001));
});

test("unstable filters are refused, and the sound goes on", () => {
  const { deck, messages, frames } = playing(),
    wild = { ...frames[1], poles: frames[1].poles.slice() };
  wild.poles[1] = 1.5;
  deck.ask({ frame: wild });
  play(deck, 12 * BLOCK);
  assert.equal(deck.voice?.frame.id, frames[0].id);
  assert.ok(messages.some((m) => m.type === "refused" && /stable/.test(m.what)));
});

test("a loop has no click at its seam, and can be read before its start", () => {
  const stem = Float32Array.from({ length: 9600 }, (_, i) => Math.sin(i / 30));
  const loop = new Loop([stem], 1000, 7000, 6000, 0),
    row = [new Float64Array(9000)];
  loop.read(0, 9000, row, 0);
  assert.equal(row[0][0], stem[6000]);
  assert.equal(row[0][1000], stem[1000]); // once round
  let step = 0;
  for (let i = 1; i < 9000; i++) step = Math.max(step, Math.abs(row[0][i] - row[0][i - 1]));
  assert.ok(step < 0.04);
  loop.read(-200, 200, row, 0);
  assert.equal(row[0][0], stem[5800]);
  const first = new Loop([stem], 0, 9600, 0, 50, true);
  first.read(0, 100, row, 0);
  assert.ok(row[0].subarray(0, 50).every((v) => v === 0));
  assert.equal(row[0][51], stem[1]);
});

test("the output is kept between silence and its largest gain", () => {
  const { deck } = deckOf();
  for (const [asked, set] of [
    [7, 2],
    [-1, 0],
    [0.5, 0.5],
  ]) {
    deck.setOutput(asked);
    assert.equal(deck.output.target, set);
  }
});

test("the seam of a short take is a quarter of it", () => {
  const take = Float64Array.from({ length: 400 }, (_, i) => i),
    into = [new Float64Array(400)];
  new Loop([take], 0, 400, 0, 0).read(0, 400, into, 0);
  assert.deepEqual([...into[0].subarray(0, 300)], [...take.subarray(0, 300)]);
  assert.notEqual(into[0][301], 301);
});

test("a loop's seam is exact to the sample", () => {
  const [start, end, seam] = [1000, 7000, 480];
  const ramp = Float32Array.from({ length: 9600 }, (_, i) => i); // sample i is i
  const loop = new Loop([ramp], start, end, start, 0),
    row = [new Float64Array(2 * (end - start))];
  loop.read(0, row[0].length, row, 0);
  for (let i = 0; i < row[0].length; i++) {
    const at = start + (i % (end - start)),
      k = at - (end - seam);
    // the raised cosine goes from this sample to the one a loop's length before it
    const share = k < 0 ? 0 : 0.5 - 0.5 * Math.cos((Math.PI * (k + 0.5)) / seam);
    assert.ok(Math.abs(row[0][i] - (at - share * (end - start))) < 1e-6, `sample ${i}`);
  }
  const early = new Loop([ramp], 0, end, end - 1, 0); // nothing precedes the stems
  early.read(0, 1, row, 0);
  assert.ok(Math.abs(row[0][0] - (end - 1) * (0.5 + 0.5 * Math.cos((Math.PI * 479.5) / 480))) < 1e-6);
});

test("a loop is fitted into its stems", () => {
  assert.deepEqual(fittingLoop(-5, Infinity, 48000), [0, 48000]);
  assert.deepEqual(fittingLoop(100, 50, 48000), [100, 2500]);
  assert.deepEqual(fittingLoop(47990, 48000, 48000), [45600, 48000]);
  assert.deepEqual(fittingLoop(NaN, NaN, 48000), [0, 48000]);
  assert.deepEqual(fittingLoop(0, 10, 1000), [0, 1000]);
});
