/** What is said of a finished guitar's sound, how loud two sounds play, and where a pair is drawn. */

import assert from "node:assert/strict";
import { test } from "node:test";

import { find, press, settle, tell } from "./page_help.js";
import { filePlace } from "../../web/js/shared/file_place.js";
import { layOutPair, TALL, WIDE } from "../../web/js/verifying/chart.js";
import { changedText, createJudging } from "../../web/js/verifying/judging.js";
import { createListening } from "../../web/js/verifying/listening.js";
import {
  besideText,
  causeTexts,
  firstHeard,
  noClipText,
  matchedGains,
  pairText,
  recordingText,
  settingText,
  unheardText,
  verdictText,
} from "../../web/js/verifying/words.js";

const LIKELY = [
  { probability: 0.72, causes: ["the joint at a is open", "the joint at b is open"], terminals: [] },
  { probability: 0.2, causes: ["a touches b"], terminals: [] },
];
const verdict = (word, named = false) => ({
  verdict: word,
  probability_sound: 0.031,
  named,
  likely: LIKELY,
});

test("a verdict says what it is and how sure", () => {
  const counted = { ...verdict("as proposed"), planned: 11, planned_recorded: 5 };
  assert.equal(
    verdictText(counted).text,
    "The guitar sounds as proposed. Nothing is heard that differs: 3 %, in 5 of 11 planned settings.",
  );
  assert.match(verdictText(verdict("as proposed")).text, /that differs: 3 %\.$/, "of an older verdict");
  assert.equal(verdictText(verdict("unsure")).look, "warn");
  assert.match(verdictText(verdict("not as proposed")).text, /No single cause is clear/);
  assert.doesNotMatch(verdictText(verdict("not as proposed", true)).text, /No single cause/);
});

test("causes are told where something is wrong, one if it is clear", () => {
  assert.deepEqual(causeTexts(verdict("as proposed")), []);
  assert.equal(causeTexts(verdict("not as proposed")).length, 2);
  assert.deepEqual(causeTexts(verdict("not as proposed", true)), [
    "72 %: the joint at a is open, or the joint at b is open",
  ]);
});

test("what the recordings cannot show is told, and how many causes are left out", () => {
  const unheard = { causes: ["a touches b", "b touches c"], more: 4 };
  assert.equal(
    unheardText({ ...verdict("as proposed"), unheard }),
    "These recordings cannot show: a touches b, b touches c, and 4 more.",
  );
  assert.equal(unheardText({ ...verdict("not as proposed"), unheard }), "");
  assert.equal(unheardText(verdict("as proposed")), "");
  assert.match(noClipText(null), /was signed for/);
  assert.match(noClipText({ number: 1, label: "", clips: [] }), /silent/);
});

test("what is typed is kept in its order, and judged after it", async () => {
  const done = [],
    /** @type {((value: unknown) => void)[]} */ held = [];
  let chord = "0 2";
  const judging = createJudging({
    fields: () => ({ frets: chord, cable: "", input: "" }),
    keep: async ({ frets }) => {
      await new Promise((go) => held.push(go));
      if (frets === "?") throw new Error("no chord");
      done.push(frets);
    },
    judge: async () => {
      done.push("judged");
      return { verdict: null };
    },
  });
  void judging.keep();
  chord = "0 2 2";
  const answer = judging.judge();
  await settle();
  assert.deepEqual(done, [], "the first is on its way");
  held.shift()(0);
  await settle();
  assert.deepEqual(done, ["0 2"]);
  held.shift()(0);
  assert.equal(changedText((await answer).verdict), "Something changed meanwhile: compare again.");
  assert.equal(changedText(null, "find it"), "Something changed meanwhile: find it.");
  assert.deepEqual(done, ["0 2", "0 2 2", "judged"]);
  chord = "?";
  const refused = assert.rejects(judging.judge(), /no chord/);
  await settle();
  held.shift()(0);
  await refused;
  assert.equal(done.length, 3, "nothing is judged with what was refused");
});

test("a place says its own limit", () => {
  const most = { bytes: 10, less: "nine letters" };
  const signal = new AbortController().signal;
  const place = filePlace({
    key: "1",
    title: "One",
    about: "",
    accept: "",
    most,
    signal,
    words() {},
    came() {},
  });
  const picker = find(place.element, "input", "type", "file");
  picker.files = [{ size: 11e6, name: "long.wav" }];
  tell(picker, "change");
  assert.match(place.element.textContent, /The file has 11 MB; nine letters have less\./);
});

test("recording and clip play through gains of their own, one at a time", async () => {
  const gains = [],
    stopped = [];
  globalThis.fetch = async () => ({ ok: true, status: 200, arrayBuffer: async () => new ArrayBuffer(8) });
  class Node {
    connect() {}
    disconnect() {}
    start() {}
    stop() {
      stopped.push(this);
    }
  }
  globalThis.AudioBufferSourceNode = Node;
  globalThis.GainNode = class extends Node {
    constructor(_, { gain }) {
      super();
      gains.push(gain);
      this.gain = { setTargetAtTime: (value) => gains.push(value) };
    }
  };
  const context = { currentTime: 0, resume: async () => {}, decodeAudioData: async () => ({}), close() {} };
  const heard = { take: "chords", way: "clean" },
    listening = createListening(
      "p",
      new AbortController().signal,
      () => heard,
      () => context,
    );
  const one = {
    setting: "1",
    label: "",
    sound: {
      number: 1,
      label: "",
      clips: [
        { take: "riff", way: "direct", lufs: -17 },
        { take: "chords", way: "direct", lufs: null },
        { take: "chords", way: "clean", lufs: -20 },
      ],
    },
    recording: { name: "a", came: "now", seconds: 8, strums: 4, loudness_lufs: -14 },
  };
  heard.way = "direct";
  assert.match(listening.buttons(one).textContent, /silent/);
  heard.way = "clean";
  const row = listening.buttons(one);
  press(row, "Hear the recording");
  await settle();
  assert.ok(Math.abs(gains[0] - 0.15 * 10 ** (-6 / 20)) < 1e-9, "the louder one is lowered");
  press(row, "Hear the clip");
  await settle();
  assert.equal(stopped.length, 1);
  assert.deepEqual(gains.slice(1), [0, 0.15]);
  press(row, "Hear the clip");
  assert.equal(stopped.length, 2, "a second press ends it");
});

test("settings, recordings and pairs are told in words", () => {
  assert.equal(settingText("2 phase=2 tone=0", "Both"), "Position 2, phase at 2, tone at 0: Both");
  assert.equal(recordingText({ strums: 1, seconds: 4.4 }), "1 strum in 4 s");
  const pair = {
    first: "1",
    second: "2",
    agrees: false,
    level_db: -3.24,
    predicted_level_db: 1,
    level_within_db: 2,
  };
  assert.equal(
    pairText(pair),
    "Position 1 against Position 2: −3.2 dB heard, +1.0 dB ± 2.0 dB predicted. They do not agree.",
  );
  assert.match(pairText({ ...pair, level_db: null }), /no band is heard in both/);
});

test("the louder of two sounds is lowered to the other", () => {
  const [one, other] = matchedGains([-14, -20]);
  assert.ok(Math.abs(one - 10 ** (-6 / 20)) < 1e-12);
  assert.equal(other, 1);
  assert.deepEqual(matchedGains([null, -20]), [1, 1]);
});

test("a pair is drawn where both were heard, and what lies outside is marked", () => {
  const bands = [100, 200, 400, 800];
  const pair = {
    heard_db: [0, 12, null, -2],
    predicted_db: [0, 2, 1, -2],
    within_db: [3, 3, 3, 3],
  };
  const laid = layOutPair(pair, bands);
  assert.deepEqual(
    laid.dots.map(({ outside }) => outside),
    [false, true, false],
  );
  assert.ok(laid.dots.every(({ cx, cy }) => cx > 0 && cx < WIDE && cy > 0 && cy < TALL));
  assert.ok(laid.dots[1].cy < laid.dots[0].cy, "more dB lie higher");
  assert.equal(layOutPair({ ...pair, heard_db: [null, null, null, null] }, bands), null);
});

test("clips play with the take and in the way of the bench, where the proposal has them", () => {
  const guitar = {
    takes: [
      { id: "riff", name: "" },
      { id: "chords", name: "" },
    ],
    ways: ["clean", "direct"],
  };
  assert.deepEqual(firstHeard(guitar, { take: "chords", way: "clean" }), { take: "chords", way: "clean" });
  assert.deepEqual(firstHeard(guitar, { take: "gone", way: "driven" }), { take: "riff", way: "direct" });
  assert.deepEqual(firstHeard({ ...guitar, ways: ["edge"] }, { take: "", way: "direct" }).way, "edge");
  assert.match(besideText("clean"), /has an amplifier/);
  assert.match(besideText("direct"), /no amplifier either/);
});
