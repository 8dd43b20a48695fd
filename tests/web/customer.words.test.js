import assert from "node:assert/strict";
import { test } from "node:test";
import {
  answerInWords,
  mailAddress,
  clipGain,
  clock,
  day,
  firstPair,
  heardWords,
  inGroups,
  isEmpty,
  noteWords,
  placesInWords,
  receiptInWords,
  sentence,
  standing,
  turnsWithWords,
  validKnobs,
  today,
  untilWords,
} from "../../web/js/customer/words.js";
import { heardIn, wayLabel } from "../../web/js/customer/ways.js";
import { cameWords, listenFirst, namesOf, outcomeOf } from "../../web/js/customer/news_words.js";
import { dbToGain, findPeaks, samplePlace } from "../../web/js/player/level.js";

test("a gain of half is 6 dB less", () => assert.ok(Math.abs(dbToGain(-6.0206) - 0.5) < 1e-5));

test("knobs return to their last valid places", () => {
  const offered = [
    { name: "volume", value: 10 },
    { name: "tone", value: 4 },
  ];
  assert.deepEqual(validKnobs(offered, ""), { volume: 10, tone: 4 });
  assert.deepEqual(validKnobs(offered, '{"tone":7.5,"other":1}'), { volume: 10, tone: 7.5 });
  for (const odd of ["{", "null", "3", '{"tone":11}', '{"tone":-1}', '{"tone":"8"}', '{"tone":null}']) {
    assert.deepEqual(validKnobs(offered, odd), { volume: 10, tone: 4 }, odd);
  }
});

test("a looping clip's place is exact where the rates agree", () => {
  assert.equal(samplePlace(0, 48000, 48000, 1000), 0);
  assert.equal(samplePlace(123_456_789_012, 48000, 48000, 562_597), 123_456_789_012 % 562_597);
  assert.equal(samplePlace(-1, 48000, 48000, 1000), 999);
  assert.equal(samplePlace(44_100, 44_100, 48_000, 100_000), 48_000);
});

test("peaks are the largest samples of equal stretches, the tallest 1", () => {
  const samples = Float32Array.from({ length: 400 }, (_, k) => (k < 200 ? 0.25 : -0.5));
  assert.deepEqual(findPeaks(samples, 4), [0.5, 0.5, 1, 1]);
  assert.deepEqual(findPeaks(new Float32Array(40), 2), [0, 0]);
});

test("words become sentences", () => {
  assert.equal(sentence(["round", "a little softer", "tone at 6"]), "Round. A little softer. Tone at 6.");
  assert.equal(sentence([]), "");
});

test("only a take that leaves places out has a remark", () => {
  assert.match(placesInWords("not modelled: electrical voicing only"), /cannot hear where along the string/);
  assert.match(
    placesInWords(
      "computed from the tracked pitch; not modelled from 1.0 to 2.5 s (several notes ring together)",
    ),
    /^In parts of this recording you cannot hear where/,
  );
  assert.equal(placesInWords("modelled: every coil hears the string at its own place"), "");
});

test("the music that the knobs turn with is named where another plays", () => {
  const takes = [
      { id: "a", name: "Riff" },
      { id: "b", name: "Chords" },
      { id: "c", name: "Slide" },
    ],
    some = (/** @type {string} */ take) => take !== "b";
  assert.equal(turnsWithWords(takes, "a", some), "");
  assert.equal(turnsWithWords(takes, "b", some), "The knobs turn with “Riff”, “Slide”.");
  assert.equal(
    turnsWithWords(takes, "b", () => false),
    "The knobs do not turn in this file.",
  );
});

test("a receipt says what the workshop has and what not", () => {
  const receipt = { received: "2026-03-03T10:00:00.000Z", isLast: true };
  assert.match(
    receiptInWords({ ...receipt, state: "signed" }),
    /^The workshop has this answer since \S.*\.$/,
  );
  assert.match(receiptInWords({ ...receipt, state: "waiting" }), /not recorded yet: the workshop asks you/);
  assert.match(receiptInWords({ ...receipt, state: "second" }), /somebody signed before/);
  const old = receiptInWords({ ...receipt, state: "none", isLast: false });
  assert.match(old, /has an answer from this page since .* send the answer again\.$/);
});

test("times, days and fingerprints are easy to read aloud", () => {
  assert.equal(clock(0), "0:00");
  assert.equal(clock(71.9), "1:11");
  assert.equal(day("2026-03-12", "en-GB"), "12 March 2026");
  assert.equal(today(new Date(2026, 2, 5, 23, 59)), "2026-03-05");
  assert.equal(inGroups("0123456789abcdef01"), "01234567 89abcdef 01");
});

test("the first pair is two favourites, or the playing sound and another", () => {
  const all = [1, 2, 3, 4];
  assert.deepEqual(firstPair([2, 4], 1, all), [2, 4]);
  assert.deepEqual(firstPair([2, 4], 4, all), [4, 2]);
  assert.deepEqual(firstPair([3], 1, all), [1, 3]);
  assert.deepEqual(firstPair([], 1, all), [1, 2]);
  assert.deepEqual(firstPair([], 3, all), [3, 1]);
  assert.deepEqual(firstPair([], 1, [1]), [1, 1]);
});

test("the favourites are counted", () => {
  const link = { isFile: false, keeps: () => true };
  assert.match(standing(0, link), /^No favourites yet\. Nothing is final/);
  assert.match(standing(1, link), /^1 favourite\./);
  assert.match(standing(2, link), /^2 favourites\./);
});

test("a page that is a file claims nothing that it cannot do", () => {
  const file = { isFile: true, keeps: () => true };
  assert.match(standing(2, file), /^2 favourites\. This page is a file and sends nothing by itself/);
  assert.doesNotMatch(standing(2, file), /keeps nothing/);
  assert.match(standing(2, { ...file, keeps: () => false }), /is lost when you close the page\.$/);
  const offer = { created: "2026-11-29T12:00:00Z", expires: "2026-12-29T12:00:00Z", signoff: null };
  assert.match(untilWords(offer, true), /^Proposal of .+, meant until /);
  assert.match(untilWords(offer, false), /^Open until /);
  assert.match(noteWords(true).done, /The workshop does not have it yet\.$/);
  assert.equal(noteWords(false).done, "", "the note itself says when it is sent");
});

test("an answer says what it holds", () => {
  const empty = { favourites: [], notes: [], wishes: [], heard: [], sign: null };
  assert.match(answerInWords(empty), /^It is empty/);
  assert.ok(isEmpty(empty) && !isEmpty({ ...empty, wishes: [{ number: 1, knobs: {} }] }));
  const said = {
    ...empty,
    favourites: [1, 3],
    notes: [{ number: 1, text: "x" }],
    wishes: [{ number: 2, knobs: { tone: 5 } }],
    sign: { number: 3, name: "R. Winter" },
  };
  assert.equal(
    answerInWords(said),
    "It holds 2 favourites, 1 note, knob settings for sound 2, your signature.",
  );
});

test("a wish says which sound it became, or how far that is", () => {
  assert.equal(outcomeOf({ sound: 4, making: null }), "You hear it as sound 4.");
  assert.equal(outcomeOf({ sound: null, making: 0.256 }), "The workshop is making it a sound: 26 %");
  assert.equal(outcomeOf({ sound: null, making: 0 }), "The workshop is making it a sound: 0 %");
  assert.equal(outcomeOf({ sound: null, making: null }), "");
  const items = [4, 5].map((number) => ({ number, label: `Neck ${number}` }));
  assert.equal(namesOf(items), "4, “Neck 4”; 5, “Neck 5”");
  assert.match(
    listenFirst(items),
    /^new sounds of this wiring came meanwhile: 4, “Neck 4”; 5, “Neck 5”\. Listen first/,
  );
  assert.match(listenFirst(items.slice(1)), /^a new sound of this wiring came meanwhile: 5, /);
  assert.equal(cameWords([]), "");
  assert.equal(cameWords(items.slice(1)), "New: sound 5, “Neck 5”. The workshop made it as you wished.");
  assert.equal(
    cameWords(items),
    "New: sounds 4, “Neck 4”; 5, “Neck 5”. The workshop made them as you wished.",
  );
});

test("a clip is brought to equal loudness or to its true level", () => {
  const clip = { mp3: "", seconds: 1, wired_gain_db: -3, even_gain_db: -0.5, silent: false };
  assert.deepEqual([clipGain(clip, true), clipGain(clip, false), clipGain(undefined, true)], [-0.5, -3, 0]);
});

test("a mail takes a short answer and no long one", () => {
  assert.equal(
    mailAddress("A & B", "presolder1.x"),
    "mailto:?subject=Answer%20to%20A%20%26%20B&body=presolder1.x",
  );
  assert.equal(mailAddress("A", "x".repeat(2000)), "");
});

test("an offer is heard in one way at a time, a file's in its own", () => {
  const offer = /** @type {any} */ ({
    takes: [{ id: "riff", name: "Riff", gain_db: 1, room_db: 2 }],
    items: [{ number: 1, label: "Neck", clips: { riff: { mp3: "clean" } } }],
    heard: {
      clean: { takes: { riff: { gain_db: 1, room_db: 2 } }, clips: { 1: { riff: { mp3: "clean" } } } },
      direct: { takes: { riff: { gain_db: 3, room_db: 4 } }, clips: { 1: { riff: { mp3: "direct" } } } },
    },
  });
  const direct = heardIn(offer, "direct");
  assert.deepEqual(direct.takes, [{ id: "riff", name: "Riff", gain_db: 3, room_db: 4 }]);
  assert.deepEqual(direct.items, [{ number: 1, label: "Neck", clips: { riff: { mp3: "direct" } } }]);
  assert.deepEqual(heardIn(direct, "clean"), offer);
  const { heard: _, ...file } = offer;
  assert.equal(heardIn(file, "clean"), file);
});

test("the page says what a way is, and that it stands for no amplifier", () => {
  const ways = [
    { name: "clean", about: "through a loudspeaker" },
    { name: "direct", about: "as the input gets it" },
  ];
  assert.match(heardWords(ways, "clean"), /^You hear every sound clean: through a loudspeaker\. One chain/);
  assert.equal(heardWords(ways, "direct"), "You hear every sound direct: as the input gets it.");
  assert.equal(wayLabel("edge"), "Edge");
});
