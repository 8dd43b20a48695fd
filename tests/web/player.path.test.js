/** Ways to hear it: direct untouched, one chain behind the switch, no click between ways. */

import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import test from "node:test";

import { BLOCK, Bank, PAST } from "../../web/js/player/bank.js";
import { Chain } from "../../web/js/player/chain.js";
import { Deck } from "../../web/js/player/deck.js";
import { Fourier } from "../../web/js/player/fft.js";
import { readFrame } from "../../web/js/player/frames.js";
import { LOOK_AHEAD } from "../../web/js/player/guard.js";
import { bytes, cases, difference, stems } from "./player_help.js";

const { chain: record } = JSON.parse(
  readFileSync(new URL("reference/chain_cases.json", import.meta.url), "utf8"),
);
const { sweep } = cases;
const frames = sweep.frames.map((/** @type {string} */ text) => readFrame(bytes(text)));
/** A click is louder than this above 5 kHz, dB of the sound; steady, the sine below has -122 there. */
const CLICK_DB = -110;
/** The clock's samples before Play: everything is warmed by then. */
const READY = 60 * BLOCK;
/** Below the guard's ceiling whatever the way. @param {string} way @param {number} [loweredDb] */
const quiet = (way, loweredDb = 0) => ({ gainDb: -60, through: { way, loweredDb } });

/** @param {Deck} deck @param {number} n @param {(clock: number) => void} [before] */
function run(deck, n, before) {
  const out = new Float64Array(n),
    block = new Float64Array(BLOCK);
  for (let at = 0; at + BLOCK <= n; at += BLOCK) {
    before?.(at);
    deck.block(block, BLOCK);
    out.set(block, at);
  }
  return out;
}

/**
 * A deck that is ready to play, at full output and as wired.
 * @param {Float32Array[]} take @param {object} wish @param {any} [known]
 */
function readyDeck(take, wish, known = record) {
  /** @type {any[]} */
  const messages = [];
  const deck = new Deck((message) => messages.push(message), { output: 1, loudest: 200 });
  if (known) deck.setChain(known);
  deck.keep("take", take);
  deck.ask({ key: "take", frame: frames[0], ...wish });
  run(deck, READY);
  deck.setPlaying(true);
  deck.play.jump(1);
  return { deck, messages };
}

/** @param {Float32Array[]} take @param {object} wish @param {Record<number, object>} [later] by clock */
function played(take, wish, later = {}, n = 160 * BLOCK, known = record) {
  const { deck } = readyDeck(take, wish, known);
  const out = run(deck, n, (clock) => {
    if (later[clock]) deck.ask(later[clock]);
  });
  return out.subarray(LOOK_AHEAD);
}

/** @param {string} name @param {ArrayLike<number>} volts @param {number} [loweredDb] */
function through(name, volts, loweredDb = 0) {
  const way = record.ways.find((/** @type {any} */ one) => one.name === name),
    chain = new Chain(record, way, loweredDb);
  const out = Float64Array.from(volts);
  for (let at = 0; at < out.length; at += BLOCK)
    chain.run(out.subarray(at, at + BLOCK), Math.min(BLOCK, out.length - at));
  return out;
}

const FLIP = 40 * BLOCK;
const take = stems(sweep.coils, 48_000);
/** A sine in every coil, longer than any test plays. @param {number} hz @param {number} peak volts */
const sineOf = (hz, peak) =>
  take.map(() =>
    Float32Array.from({ length: 120_000 }, (_, i) => peak * Math.sin((2 * Math.PI * hz * i) / 48_000)),
  );
/** @param {ArrayLike<number>} samples @param {number} gain */
const scaled = (samples, gain) => Float64Array.from(samples, (v) => v * gain);
const largest = (/** @type {Float64Array} */ samples) =>
  samples.reduce((a, v) => Math.max(a, Math.abs(v)), 0);

test("direct is the filters' output times its gain, bit for bit", () => {
  const got = played(take, quiet("direct"), {}, 50 * BLOCK);
  const bank = new Bank(frames[0]),
    want = new Float64Array(50 * BLOCK);
  const rows = take.map((stem) =>
    Float64Array.from([...new Float64Array(PAST), ...stem.slice(0, 50 * BLOCK)]),
  );
  const gain = 10 ** (-60 / 20);
  for (let at = 0; at < want.length; at += BLOCK)
    bank.run(rows, PAST + at, BLOCK, want.subarray(at, at + BLOCK));
  assert.ok(got.every((v, i) => v === gain * want[i]));
  assert.ok(largest(got) > 0);
});

test("a chain that is known changes nothing of direct, through flips and levels", () => {
  const later = {
    [FLIP]: { frame: { ...frames[3], matchGainDb: -6 } },
    [2 * FLIP]: { frame: frames[1], ...quiet("direct") },
  };
  const without = played(take, { gainDb: -60 }, { ...later, [2 * FLIP]: { frame: frames[1], gainDb: -60 } },
    160 * BLOCK, null); // prettier-ignore
  const withIt = played(take, quiet("direct"), later);
  assert.ok(withIt.every((v, i) => v === without[i]));
});

for (const [name, lowered] of /** @type {[string, number][]} */ ([
  ["clean", 0],
  ["edge", 0],
  ["driven", 3],
])) {
  test(`${name} is the chain over the volts of the selector, flips and all`, () => {
    const later = { [FLIP]: { frame: frames[3] }, [2 * FLIP]: { frame: frames[1] } };
    const volts = scaled(played(take, quiet("direct"), later), 10 ** (60 / 20));
    const want = scaled(through(name, volts, lowered), 10 ** (-60 / 20));
    const got = played(take, quiet(name, lowered), later);
    assert.ok(largest(want) > 1e-4);
    assert.ok(difference(got, want) <= 1e-9 * largest(want), `${difference(got, want) / largest(want)}`);
  });
}

/** As loud as a chord. */
const sine = sineOf(110, 0.2);

const fourier = new Fourier(1024);
/** The power of each bin of 1024 samples, in a Blackman window. @param {Float64Array} samples */
function powerOf(samples) {
  const re = samples.map((v, i) => {
      const turn = (2 * Math.PI * i) / samples.length;
      return v * (0.42 - 0.5 * Math.cos(turn) + 0.08 * Math.cos(2 * turn));
    }),
    im = new Float64Array(samples.length);
  fourier.forward(re, im);
  return re.slice(0, samples.length / 2).map((v, i) => v * v + im[i] * im[i]);
}

/**
 * The most that lies above 5 kHz in any stretch of 20 ms, dB of the loudest stretch.
 * @param {Float64Array} samples @param {number} from
 */
function above5kHz(samples, from) {
  let most = 0,
    whole = 0;
  for (let at = from; at + 1024 <= samples.length; at += 256) {
    const power = powerOf(samples.subarray(at, at + 1024));
    whole = Math.max(
      whole,
      power.reduce((a, v) => a + v, 0),
    );
    most = Math.max(
      most,
      power.subarray(Math.ceil((5000 / 48_000) * 1024)).reduce((a, v) => a + v, 0),
    );
  }
  return 10 * Math.log10(most / whole);
}

const SETTLED = 24_064;

for (const name of ["direct", "clean", "edge", "driven"])
  test(`a flip in ${name} makes no click`, () => {
    const flips = { [SETTLED]: { frame: frames[4] }, [SETTLED + 2560]: { frame: frames[0] } };
    const out = played(sine, quiet(name), flips, SETTLED + 60 * BLOCK);
    assert.ok(above5kHz(out, SETTLED - 4096) < CLICK_DB, `${above5kHz(out, SETTLED - 4096)} dB`);
  });

test("a jump of the volts in driven would be heard as a click", () => {
  const one = scaled(played(sine, quiet("direct"), {}, SETTLED + 60 * BLOCK), 1000);
  const other = scaled(
    played(sine, { ...quiet("direct"), frame: frames[4] }, {}, SETTLED + 60 * BLOCK),
    1000,
  );
  let widest = SETTLED; // where the two differ most
  for (let i = SETTLED; i < SETTLED + 436; i++)
    if (Math.abs(one[i] - other[i]) > Math.abs(one[widest] - other[widest])) widest = i;
  const jumping = one.map((v, i) => (i < widest ? v : other[i]));
  assert.ok(above5kHz(through("driven", jumping), SETTLED - 4096) > CLICK_DB + 15);
});

/** What is far from every harmonic of this tone is no programme; folded harmonics fall on harmonics too. */
const TONE_HZ = 4000,
  AWAY_HZ = 1500;
/** The bar of flips: what they add, dB of the sound. */
const ARTEFACT_DB = -90;
const WIDE = 2048,
  wide = new Fourier(WIDE);

/**
 * The most that lies between the harmonics of the tone in any stretch, 1.5 kHz away from each, dB of the
 * loudest stretch. There a tone that stands has nothing, however it is bent, and one that fades over 20 ms
 * next to nothing.
 * @param {Float64Array} samples @param {number} from
 */
function betweenHarmonics(samples, from) {
  let most = 0,
    whole = 0;
  for (let at = from; at + WIDE <= samples.length; at += 128) {
    const re = samples.slice(at, at + WIDE).map((v, i) => {
        const turn = (2 * Math.PI * i) / WIDE;
        return v * (0.42 - 0.5 * Math.cos(turn) + 0.08 * Math.cos(2 * turn));
      }),
      im = new Float64Array(WIDE);
    wide.forward(re, im);
    let all = 0,
      between = 0;
    for (let k = 0; k < WIDE / 2; k++) {
      const power = re[k] * re[k] + im[k] * im[k],
        away = ((k * 48_000) / WIDE) % TONE_HZ;
      all += power;
      if (away >= AWAY_HZ && away <= TONE_HZ - AWAY_HZ) between += power;
    }
    most = Math.max(most, between);
    whole = Math.max(whole, all);
  }
  return 10 * Math.log10(most / whole);
}

const tone = sineOf(TONE_HZ, 0.2);
for (const name of ["direct", "clean", "edge", "driven"])
  test(`a flip in ${name} adds nothing beside the harmonics of a tone; a jump of the volts does`, () => {
    const flips = { [SETTLED]: { frame: frames[4] }, [SETTLED + 5120]: { frame: frames[0] } };
    const length = SETTLED + 100 * BLOCK;
    const flipped = betweenHarmonics(played(tone, quiet(name), flips, length), SETTLED - 4096);
    const [one, other] = [frames[0], frames[4]].map((frame) =>
      scaled(played(tone, { ...quiet("direct"), frame }, {}, length), 1000),
    );
    const jumping = one.map((v, i) => (i < SETTLED ? v : other[i]));
    const heard = name === "direct" ? jumping : through(name, jumping),
      jumped = betweenHarmonics(heard, SETTLED - 4096);
    assert.ok(flipped <= ARTEFACT_DB, `${flipped} dB`);
    assert.ok(jumped > ARTEFACT_DB + 20, `${jumped} dB`);
  });

test("between ways there is no click, and each is what it would be from the start", () => {
  const ways = ["direct", "clean", "driven", "edge", "direct"];
  const asked = Object.fromEntries(ways.map((name, k) => [SETTLED + k * 128 * BLOCK, quiet(name)]));
  const n = SETTLED + ways.length * 128 * BLOCK;
  const out = played(sine, quiet("direct"), asked, n);
  assert.ok(above5kHz(out, SETTLED - 4096) < CLICK_DB, `${above5kHz(out, SETTLED - 4096)} dB`);
  ways.forEach((name, k) => {
    const always = played(sine, quiet(name), {}, n),
      until = SETTLED + (k + 1) * 128 * BLOCK - LOOK_AHEAD - BLOCK;
    const [got, want] = [out, always].map((all) => all.subarray(until - 1024, until));
    assert.ok(
      difference(got, want) <= 1e-6 * largest(want),
      `${name} ${difference(got, want) / largest(want)}`,
    );
  });
});

test("in driven two matched settings of one sound stay equally loud during the flip", () => {
  const soft = {
    ...frames[0],
    id: 77,
    numerators: scaled(frames[0].numerators, 0.5),
    fir: scaled(frames[0].fir, 0.5),
  };
  const small = sineOf(440, 2e-5); // the curve is straight there; the loudspeaker delays lower notes more
  const { deck } = readyDeck(small, { ...quiet("driven"), frame: { ...frames[0], matchGainDb: 0 } });
  deck.setMatched(true);
  deck.matched.jump(1);
  const out = run(deck, SETTLED + 40 * BLOCK, (clock) => {
    if (clock === SETTLED) deck.ask({ frame: { ...soft, matchGainDb: 20 * Math.log10(2) } });
  });
  const periods = Array.from({ length: 10 }, (_, k) => {
    const at = SETTLED - 1000 + 437 * k;
    return Math.hypot(...out.subarray(at, at + 436));
  });
  const steady = periods[0];
  assert.ok(steady > 0);
  // a gain that moved in a straight line would be 1 dB off half way
  for (const one of periods) assert.ok(Math.abs(20 * Math.log10(one / steady)) < 0.3, `${one / steady}`);
});

test("a way that is not there is refused, and the sound goes on", () => {
  for (const [known, way, what] of /** @type {[any, string, RegExp][]} */ ([
    [null, "clean", /chain has not arrived/],
    [record, "crunchy", /crunchy is not known/],
  ])) {
    const { deck, messages } = readyDeck(take, quiet("direct"), known);
    run(deck, 10 * BLOCK);
    deck.ask({ frame: frames[2], ...quiet(way) });
    run(deck, 10 * BLOCK);
    assert.ok(messages.some((m) => m.type === "refused" && what.test(m.what)));
    assert.equal(deck.voice?.path.through.way, "direct");
  }
});

test("a level that comes later belongs to the same way", () => {
  const { deck, messages } = readyDeck(take, quiet("driven"));
  run(deck, 20 * BLOCK);
  messages.length = 0;
  deck.ask({ key: "take", frame: { ...frames[0], matchGainDb: -3 }, ...quiet("driven") });
  run(deck, 30 * BLOCK);
  assert.equal(messages.length, 0);
  deck.ask({ key: "take", frame: { ...frames[0], matchGainDb: -3 }, ...quiet("driven", 2) });
  run(deck, 200 * BLOCK);
  assert.deepEqual(
    messages.map(({ type }) => type),
    ["applied"],
  );
});

test("an unknown loudness is taken for one behind the drive", () => {
  const unknown = { ...frames[0], matchGainDb: NaN };
  const most = ["direct", "driven"].map((name) => {
    const { deck } = readyDeck(take, { ...quiet(name), frame: unknown });
    deck.setLoudest(-14);
    return /** @type {number} */ (deck.voice?.most.target);
  });
  const { gain } = record.ways.at(-1);
  assert.ok(Math.abs(most[0] / most[1] / gain - 1) < 1e-9);
});

test("what overflows in a chain is muted, and sound returns after it", () => {
  const wild = stems(sweep.coils, 48_000);
  wild[0][3000] = 3e38;
  const out = played(wild, quiet("clean"), {}, 160 * BLOCK);
  assert.ok(out.every(Number.isFinite));
  assert.ok(largest(out.slice(120 * BLOCK)) > 1e-6);
});
