import assert from "node:assert/strict";
import test from "node:test";
import { find, settle, tell } from "./page_help.js";
import { bringTake } from "../../web/js/bench/bring_take.js";
import { midiView } from "../../web/js/bench/midi_view.js";
import { isMidi, lengthWords, meantTrack, partWords, stringsWords } from "../../web/js/bench/midi_words.js";

const part = (/** @type {Partial<import("../../web/js/bench/midi_words.js").Part>} */ one) => ({
  track: 1,
  name: "",
  channels: [1],
  notes: 2,
  ...one,
});
const look = (/** @type {Partial<import("../../web/js/bench/midi_words.js").Look>} */ one) => ({
  parts: [],
  notes: 7,
  seconds: 3.5,
  strings: /** @type {"hand"} */ ("hand"),
  on: [2, 0, 4],
  left_out: [],
  remarks: [],
  problems: [],
  ...one,
});

test("a MIDI file is known by its name or its first bytes", async () => {
  assert.equal(await isMidi(new File(["anything"], "Riff.MID")), true);
  assert.equal(await isMidi(new File(["MThd…"], "riff")), true);
  assert.equal(await isMidi(new File(["RIFF…"], "riff.wav")), false);
});

test("the one guitar among the tracks is meant", () => {
  const band = [part({ name: "Bass" }), part({ track: 2, name: "Electric guitar" }), part({ track: 3 })];
  assert.equal(meantTrack(band), 2);
  assert.equal(meantTrack([...band, part({ track: 4, name: "guitar 2" })]), 0);
  assert.equal(meantTrack([part({ name: "guitar" })]), 0);
});

test("parts, strings and lengths in words", () => {
  assert.equal(
    partWords(part({ track: 3, name: "Kit", channels: [10], notes: 1 })),
    "Track 3, Kit, percussion: 1 note",
  );
  assert.equal(
    stringsWords(look({})),
    "A hand plays it where it is easiest. Notes: 2 on string 1, 4 on string 3; string 1 is the highest.",
  );
  assert.match(stringsWords(look({ strings: "tracks" })), /^Each track of the file is a string\. /);
  assert.equal(lengthWords(look({})), "6 of 7 notes, 3.5 s.");
  assert.equal(lengthWords(look({ on: [3, 4] })), "7 notes, 3.5 s.");
});

test("a sound file after a MIDI file ends the looking", async () => {
  const busy = [],
    view = midiView({ slot: () => ({ version: "v" }) }, { failed() {}, busy: (is) => void busy.push(is) });
  const sent = [];
  globalThis.XMLHttpRequest = class {
    upload = {};
    open() {}
    setRequestHeader() {}
    send = () => void sent.push(this);
  };
  view.open(new File(["MThd"], "riff.mid"));
  view.open(undefined);
  Object.assign(sent[0], { status: 200, response: look({ parts: [] }) }).onload();
  await settle();
  assert.deepEqual(busy, [true, false]);
  assert.equal(view.chosen(), null, "nothing of the file before");
});

test("while a MIDI file is sent, it is sent once and its track stays", async () => {
  const sent = [];
  globalThis.XMLHttpRequest = class {
    upload = {};
    open(_, path) {
      this.path = path;
    }
    setRequestHeader() {}
    send = () => void sent.push(this);
  };
  const { body } = globalThis.document,
    session = { slot: () => ({ version: "v" }), get: () => ({ commission: { wirings: [] } }) };
  bringTake(session, new File(["MThd"], "riff.mid"));
  await settle();
  const parts = [part({}), part({ track: 2 })];
  Object.assign(sent[0], { status: 200, response: look({ parts }) }).onload();
  await settle();
  const form = find(body, "form"),
    go = body.all().findLast(({ tag }) => tag === "button");
  assert.equal(go.disabled, false);
  tell(form, "submit");
  assert.match(sent[1].path, /^\/api\/takes\?/);
  assert.ok(go.disabled);
  const track = body.all().findLast(({ tag }) => tag === "select");
  assert.ok(track.disabled);
  tell(track, "change");
  await settle();
  sent.slice(2).forEach((one) => Object.assign(one, { status: 200, response: look({ parts }) }).onload());
  await settle();
  assert.ok(go.disabled, "still on its way");
});
