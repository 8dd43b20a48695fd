/** The dialogs that record a take, or a setting of a finished guitar: inputs that come, go and are slow. */

import assert from "node:assert/strict";
import { beforeEach, test } from "node:test";
import { find, press, settle, tell } from "./page_help.js";
import { recordTake } from "../../web/js/bench/record_take.js";
import { filePlace } from "../../web/js/shared/file_place.js";
import { openSoundCheck } from "../../web/js/verifying/view.js";
import { longest, recordSetting } from "../../web/js/verifying/record.js";
import { MOST } from "../../web/js/verifying/sounds.js";

const RATE = 8000;
const session = {
  get: () => ({ commission: { wirings: [] } }),
  slot: () => ({ version: "v" }),
  set: (state) => Object.assign(session.state, state),
  state: {},
};
/** Inputs that were opened, and uploads that were begun. */
let opened = [],
  sent = [],
  /** Called before an input opens. @type {() => Promise<void>} */
  before = async () => {};

class Tone {
  constructor() {
    this.port = { onmessage: (_) => {} };
    opened.at(-1).play = (seconds, size = 0.5) =>
      this.port.onmessage({ data: new Float32Array(seconds * RATE).fill(size) });
  }
  connect = (next) => next;
}
class Plain {
  connect = (next) => next;
}
Object.assign(globalThis, {
  AudioWorkletNode: Tone,
  MediaStreamAudioSourceNode: Plain,
  GainNode: Plain,
  AudioContext: class {
    sampleRate = RATE;
    state = "running";
    audioWorklet = { addModule: async () => {} };
    constructor() {
      opened.at(-1).context = this;
    }
    resume = async () => {};
    close = async () => void (this.state = "closed");
  },
  XMLHttpRequest: class {
    upload = {};
    open() {}
    setRequestHeader() {}
    send = () => void sent.push(this);
    abort() {
      this.stopped = true;
      this.onabort();
    }
  },
  fetch: async () => ({ ok: true, status: 200, json: async () => [{ id: "kept" }] }),
});
Object.defineProperty(globalThis, "navigator", {
  configurable: true,
  value: {
    mediaDevices: {
      async getUserMedia({ audio }) {
        const input = { id: audio.deviceId?.exact ?? "usual", open: true };
        opened.push(input);
        const track = { stop: () => void (input.open = false), getSettings: () => ({ deviceId: input.id }) };
        input.unplug = () => track.onended?.();
        await before();
        return { getAudioTracks: () => [track] };
      },
      enumerateDevices: async () =>
        ["usual", "other", "third"].map((deviceId) => ({ kind: "audioinput", deviceId, label: deviceId })),
    },
  },
});

const page = () => globalThis.document.body;
const kept = () => find(page(), "form");
const still = () => opened.filter(({ open }) => open).map(({ id }) => id);
const dialogs = () =>
  page()
    .all()
    .filter(({ tag }) => tag === "dialog");
const status = () => find(page(), "p", "role", "status").textContent;

/** Record some seconds, as loud as that. */
async function record(seconds, size, words = "Record") {
  press(page(), words);
  opened.at(-1).play(seconds, size);
  press(page(), "Stop");
  await settle();
}

beforeEach(async () => {
  page().replaceChildren();
  [opened, sent, session.state] = [[], [], {}];
  before = async () => {};
  recordTake(session);
  press(page(), "Open the input");
  await settle();
  find(page(), "input", "type", "checkbox").checked = false; // no count-in
});

test("two quick choices leave one input open, and none stays open after the dialog", async () => {
  const which = find(page(), "select");
  /** @type {(() => void)[]} */
  const waiting = [];
  before = () => new Promise((done) => waiting.push(done));
  for (const id of ["other", "third"]) {
    which.value = id;
    tell(which, "change");
  }
  assert.ok(which.disabled, "no choice while an input opens");
  for (const done of waiting.reverse()) done();
  await settle();
  await settle();
  assert.deepEqual(still(), ["third"]);
  assert.equal(which.disabled, false);
  which.value = "other";
  tell(which, "change");
  press(page(), "Cancel");
  waiting.at(-1)();
  await settle();
  assert.deepEqual(still(), []);
});

test("the choice of an input has the focus again once that is open", async () => {
  const which = find(page(), "select");
  which.focus();
  tell(which, "change");
  page().focus(); // as a browser does with what is disabled
  await settle();
  assert.equal(globalThis.document.activeElement, which);
});

test("an input that cannot be listed is closed", async () => {
  const { mediaDevices } = navigator,
    list = mediaDevices.enumerateDevices;
  mediaDevices.enumerateDevices = async () => Promise.reject(new Error("odd"));
  tell(find(page(), "select"), "change");
  await settle();
  mediaDevices.enumerateDevices = list;
  assert.deepEqual(still(), []);
  press(page(), "Open the input");
});

test("what was recorded stays through another input, a count-in that stops, and silence", async () => {
  await record(2);
  assert.equal(kept().hidden, false);
  const judged = status();
  tell(find(page(), "select"), "change");
  assert.equal(kept().hidden, false, "while the other input opens");
  await settle();
  assert.equal(kept().hidden, false);
  find(page(), "input", "type", "checkbox").checked = true;
  press(page(), "Record again");
  assert.equal(kept().hidden, true);
  press(page(), "Stop");
  assert.equal(kept().hidden, false);
  assert.equal(status(), judged);
  find(page(), "input", "type", "checkbox").checked = false;
  await record(1, 0, "Record again");
  assert.equal(kept().hidden, false);
  assert.match(status(), /What was recorded before is still here\.$/);
});

test("an input that goes during a recording ends it, and what came is there", async () => {
  press(page(), "Record");
  opened.at(-1).play(3);
  opened.at(-1).unplug();
  await settle();
  assert.deepEqual(still(), []);
  assert.equal(opened.at(-1).context.state, "closed");
  assert.match(status(), /^3\.0 s\./);
  assert.equal(kept().hidden, false);
  press(page(), "Record again");
  await settle();
  assert.deepEqual(still(), ["usual"]);
  assert.equal(kept().hidden, false);
});

test("the running time is no part of what is read aloud", async () => {
  press(page(), "Record");
  const words = status();
  assert.equal(words, "Recording…");
  assert.match(find(page(), "p", "role", "timer").textContent, /^0\.0 s of at most 5 min/);
  press(page(), "Stop");
});

test("a recording that is not kept is not thrown away without asking", async () => {
  await record(2);
  press(page(), "Cancel");
  assert.equal(dialogs().length, 2);
  press(page(), "Go back");
  assert.equal(dialogs().length, 1);
  assert.ok(tell(dialogs()[0], "cancel"), "Escape");
  press(page(), "Throw it away");
  assert.equal(dialogs().length, 0);
  assert.deepEqual(still(), []);
});

test("nothing is asked where nothing is lost", () => {
  assert.equal(tell(dialogs()[0], "cancel"), false);
  press(page(), "Cancel");
  assert.equal(dialogs().length, 0);
});

test("closing while it is sent stops the sending", async () => {
  await record(2);
  tell(kept(), "submit");
  assert.equal(find(page(), "select").disabled, true);
  sent[0].upload.onprogress({ lengthComputable: true, loaded: 1, total: 2 });
  assert.equal(find(page(), "progress").value, 0.5);
  press(page(), "Cancel");
  press(page(), "Throw it away");
  await settle();
  assert.equal(sent[0].stopped, true);
  assert.deepEqual(session.state, {});
});

test("a recording that was kept is chosen, and the dialog goes, with its question", async () => {
  await record(2);
  tell(kept(), "submit");
  press(page(), "Cancel");
  Object.assign(sent[0], { status: 200, response: { id: "kept" } });
  sent[0].onload();
  await settle();
  assert.equal(session.state.take, "kept");
  assert.equal(dialogs().length, 0);
});

test("a recording that was refused is still there", async () => {
  await record(2);
  tell(kept(), "submit");
  Object.assign(sent[0], { status: 422, response: { problems: [{ where: "name", got: "", allowed: "" }] } });
  sent[0].onload();
  await settle();
  assert.equal(kept().hidden, false);
  assert.equal(status(), "What was recorded is still here.");
  tell(kept(), "submit");
  assert.equal(sent.length, 2);
});

/** The dialog of a setting instead, with its input open. */
async function openSetting() {
  press(page(), "Cancel");
  await settle();
  const came = recordSetting("Position 1", "setting 1");
  came.catch(() => {});
  press(page(), "Open the input");
  await settle();
  return { came };
}

test("a setting of the finished guitar is recorded, and its input closed", async () => {
  const { came } = await openSetting();
  press(page(), "Record");
  opened.at(-1).play(2);
  press(page(), "Stop and keep");
  const file = await came;
  assert.deepEqual([file.name, file.size], ["setting 1.wav", 44 + 3 * 2 * RATE]);
  assert.deepEqual([still(), dialogs().length], [[], 0]);
});

test("a silent or a cut recording of a setting is not kept, and the next one is", async () => {
  const { came } = await openSetting();
  for (const [size, why] of [
    [0, /silent/],
    [1, /gain down/],
  ]) {
    press(page(), "Record");
    opened.at(-1).play(1, size);
    press(page(), "Stop and keep");
    assert.match(find(page(), "p", "role", "alert").textContent, why);
  }
  press(page(), "Record");
  opened.at(-1).play(1);
  press(page(), "Stop and keep");
  assert.equal((await came).size, 44 + 3 * RATE);
});

test("a dialog that is closed keeps nothing of a setting", async () => {
  const { came } = await openSetting();
  press(page(), "Record");
  opened.at(-1).play(1);
  dialogs()[0].close();
  await assert.rejects(came, /Nothing was recorded/);
  assert.deepEqual(still(), []);
});

test("Escape asks before a recording of a setting is lost", async () => {
  const { came } = await openSetting();
  assert.equal(tell(dialogs()[0], "cancel"), false, "nothing is lost");
  press(page(), "Record");
  opened.at(-1).play(1);
  assert.ok(tell(dialogs()[0], "cancel"), "it stays");
  assert.match(page().textContent, /The recording is not finished/);
  press(page(), "Go back");
  press(page(), "Stop and keep");
  assert.equal((await came).size, 44 + 3 * RATE);
});

test("what was recorded of a setting until its input went can be kept", async () => {
  const { came } = await openSetting();
  press(page(), "Record");
  opened.at(-1).unplug();
  assert.match(find(page(), "p", "role", "alert").textContent, /has gone.*recording is silent/);
  assert.throws(() => press(page(), "Keep what was recorded"), /is hidden/);
  press(page(), "Open the input");
  await settle();
  press(page(), "Record");
  opened.at(-1).play(2);
  opened.at(-1).unplug();
  assert.match(find(page(), "p", "role", "alert").textContent, /has gone/);
  assert.ok(tell(dialogs()[0], "cancel"), "it asks");
  press(page(), "Go back");
  press(page(), "Keep what was recorded");
  assert.equal((await came).size, 44 + 3 * 2 * RATE);
  assert.deepEqual([still(), dialogs().length], [[], 0]);
});

test("a recording of a setting is no longer than the server takes, at any rate", () => {
  assert.equal(longest(48_000), 170);
  for (const rate of [44_100, 48_000, 96_000, 192_000, 384_000])
    assert.ok(44 + 3 * rate * longest(rate) < MOST.bytes, `${rate} Hz`);
  assert.equal(longest(192_000), 144);
});

test("a recording that the server did not get is sent again", async () => {
  press(page(), "Cancel");
  const closing = new AbortController();
  const file = new File(["a"], "setting 1.wav");
  const tries = [];
  let now = null;
  const place = filePlace({
    ...{ key: "1", title: "Position 1", about: "", accept: "", drop: async () => ({}) },
    bring: (sent) => {
      let end;
      const done = new Promise((...ends) => (end = ends));
      tries.push({ sent, end });
      return { done, stop() {} };
    },
    words: () => ({ text: "", warn: "" }),
    came: (came) => (now = came),
    signal: closing.signal,
    taking: { label: "Record", take: async () => file },
  });
  assert.equal(place.loss(), "");
  press(place.element, "Record");
  await settle();
  assert.match(place.loss(), /on its way/);
  assert.throws(() => press(place.element, "Send it again"), /is hidden/);
  tries[0].end[1](new Error("No connection"));
  await settle();
  assert.match(place.element.textContent, /No connection/);
  assert.match(place.loss(), /not kept yet/);
  press(place.element, "Send it again");
  assert.equal(tries[1].sent, file);
  tries[1].end[0]("kept");
  await settle();
  assert.deepEqual([now, place.loss()], ["kept", ""]);
  assert.throws(() => press(place.element, "Send it again"), /is hidden/);
});

test("the sound check is not closed unasked while a file is on its way", async () => {
  press(page(), "Cancel");
  const guitar = {
    ...{ cautions: [], steps: [], takes: [], ways: ["direct"], verdict: null },
    fields: { frets: "", cable: "", input: "" },
    settings: [{ setting: "1", label: "", sound: null, recording: null }],
  };
  const fetched = globalThis.fetch;
  globalThis.fetch = async () => new Response(JSON.stringify(guitar), { status: 200 });
  openSoundCheck({ id: "p", title: "Yours" }, { take: "", way: "direct" });
  await settle();
  await settle();
  globalThis.fetch = fetched;
  const [dialog] = dialogs();
  assert.equal(tell(dialog, "cancel"), false, "nothing is lost");
  const picker = find(dialog, "input", "type", "file");
  picker.files = [new File(["a"], "a.wav")];
  tell(picker, "change");
  assert.ok(tell(dialog, "cancel"));
  assert.match(page().textContent, /Position 1: the file is still on its way/);
});
