import assert from "node:assert/strict";
import { test } from "node:test";

import {
  emptyForm,
  progressText,
  contentText,
  newsOfListing,
  planInWords,
  problemsOf,
  recallForm,
  rowInWords,
  rowsInWords,
  shareOf,
  remainingText,
  stateText,
  orderOf,
} from "../../web/js/listings/words.js";

/** @import {Form, Listing, Planned, Row} from "../../web/js/listings/words.js" */

/** @param {Partial<Row>} [other] @returns {Row} */
const row = (other = {}) => ({
  number: 1,
  name: "One",
  state: "waiting",
  files: 4,
  files_done: 0,
  reused: 0,
  problems: [],
  warnings: [],
  ...other,
});
/** @param {Partial<Listing>} [other] @returns {Listing} */
const job = (other = {}) => ({
  id: "x",
  title: "Spring",
  clips: 6,
  seconds: 75,
  created: "2026-01-01T00:00:00Z",
  state: "running",
  archived: null,
  cancelling: false,
  ahead: 0,
  options: { formats: [{ format: "flac" }, { format: "ogg" }], loudness_lufs: -18, settings: [] },
  progress: {},
  report: {},
  takes: ["A"],
  instruments: [row(), row()],
  page: null,
  ...other,
});
const newest = new Map([
  ["w1", "v1"],
  ["w2", "v2"],
]);
/** @param {Partial<Form>} [other] @returns {Form} */
const form = (other = {}) => ({
  ...emptyForm(),
  wirings: { w1: [], w2: ["1", "3"] },
  takes: ["demo:a"],
  ...other,
});

test("a filled-in form becomes the request to the server", () => {
  const { order, problem } = orderOf(
    form({
      title: "  ",
      web: { artist: " The workshop ", address: "" },
      sales: { w1: { price: " ", story: "" }, w2: { price: "9 CHF", story: " " }, w3: { price: "1 EUR" } },
      settings: [
        { label: "Every knob at 10", moves: [] },
        {
          label: "Warm, dark!",
          moves: [
            { what: "tone", kind: "at", at: "3,5", to: "" },
            { what: "", kind: "at", at: "1", to: "" },
          ],
        },
        {
          label: "warm dark",
          moves: [
            { what: "tone", kind: "sweep", at: "0", to: "10" },
            { what: "phase", kind: "switch", at: "2", to: "" },
          ],
        },
      ],
    }),
    newest,
  );
  assert.equal(problem, "");
  assert.deepEqual(order, {
    title: "Listing",
    wirings: [
      { version: "v1", positions: [] },
      { version: "v2", positions: ["1", "3"], sale: { price: "9 CHF" } },
    ],
    takes: ["demo:a"],
    settings: [
      { name: "open", label: "Every knob at 10", knobs: {}, switches: {}, sweeps: [] },
      { name: "warm_dark", label: "Warm, dark!", knobs: { tone: 3.5 }, switches: {}, sweeps: [] },
      {
        name: "warm_dark_2",
        label: "warm dark",
        knobs: {},
        switches: { phase: "2" },
        sweeps: [{ knob: "tone", start: 0, end: 10 }],
      },
    ],
    formats: [{ format: "flac" }, { format: "mp3" }],
    loudness_lufs: -18,
    names: "{wiring}-{take}-{position}-{clips}",
    through: "direct",
    limit: false,
    hum: "",
    artist: "The workshop",
    address: "",
  });
  assert.equal(orderOf(form({ matched: false, lufs: "loud" }), newest).order.loudness_lufs, null);
});

test("a limiter goes with a loudness alone, and hum is named as a listing file does", () => {
  const order = (/** @type {Partial<Form>} */ other) => orderOf(form(other), newest).order;
  const hum = { room: "stage", mains: 60 };
  const found = order({ matched: true, limit: true, hum });
  assert.deepEqual([found.limit, found.hum], [true, "stage, 60 Hz"]);
  assert.equal(order({ matched: false, limit: true }).limit, false);
  assert.deepEqual(recallForm({ limit: true, hum }), { ...emptyForm(), limit: true, hum });
  const job = { instruments: [], clips: 1, seconds: 2, takes: [] };
  /** @param {object} options */
  const said = (options) =>
    contentText(/** @type {any} */ ({ ...job, options: { formats: [], loudness_lufs: -16, ...options } }));
  assert.match(
    said({ limit: true, through: "clean", hum: "stage, 60 Hz" }),
    /−16 LUFS, with a limiter · heard clean · hum of a room \(stage, 60 Hz\)$/,
  );
  assert.match(said({ through: "direct", hum: "" }), /−16 LUFS$/);
});

test("missing and impossible entries are reported one at a time", () => {
  const said = (/** @type {Partial<Form>} */ other) => orderOf(form(other), newest).problem;
  assert.match(said({ wirings: {} }), /instrument/);
  assert.match(said({ wirings: { gone: [] } }), /instrument/);
  assert.match(said({ takes: [] }), /take/);
  assert.match(said({ formats: [] }), /file format/);
  assert.match(said({ lufs: "" }), /LUFS/);
  assert.match(said({ lufs: "3" }), /LUFS/);
  assert.match(
    said({ settings: [{ label: "Warm", moves: [{ what: "tone_b", kind: "at", at: "11", to: "" }] }] }),
    /Warm: Tone b goes from 0 to 10/,
  );
  assert.match(
    said({ settings: [{ label: "Warm", moves: [{ what: "tone", kind: "sweep", at: "1", to: "" }] }] }),
    /0 to 10/,
  );
});

test("remembered entries are used where they are valid", () => {
  for (const broken of [
    null,
    7,
    "x",
    [],
    { wirings: { a: 3 }, takes: 4, settings: [1, { label: 2 }], formats: ["exe"], matched: "yes" },
  ]) {
    const found = recallForm(broken);
    assert.deepEqual({ ...found, wirings: {} }, { ...emptyForm(), formats: found.formats });
  }
  assert.deepEqual(recallForm(JSON.parse(JSON.stringify(form()))), form());
});

test("progress in words", () => {
  assert.equal(shareOf(job()), 0);
  assert.equal(shareOf(job({ instruments: [row({ files_done: 4 }), row()] })), 0.5);
  assert.equal(shareOf(job({ progress: { share: 0.7 } })), 0.7);
  assert.equal(shareOf(job({ state: "done" })), 1);
  assert.equal(
    progressText(job({ progress: { share: 0.424, times_real_time: 23.6, remaining_s: 200 } })),
    "42 % · 24 × real time · 3 min 20 s left",
  );
  assert.equal(progressText(job({ state: "cancelled", progress: { share: 0.5 } })), "50 % made");
  assert.equal(remainingText(3 * 3600 + 5 * 60), "3 h 05 min");
  assert.equal(remainingText(7.4), "7 s");
});

test("states, contents and rows in words", () => {
  assert.equal(stateText(job()), "starting");
  assert.equal(stateText(job({ progress: { share: 0.1 } })), "running");
  assert.equal(stateText(job({ cancelling: true })), "being cancelled");
  assert.equal(stateText(job({ state: "queued", ahead: 2 })), "waiting for 2 others");
  assert.equal(stateText(job({ state: "done", report: { failed: 1 } })), "done, 1 failed");
  assert.equal(
    contentText(job()),
    "2 instruments · 6 clips · 1 min 15 s of sound · 1 take · FLAC, Ogg Vorbis · −18 LUFS",
  );
  assert.equal(
    rowsInWords([row({ state: "done" }), row({ state: "failed" }), row()]),
    "1 of 3 instruments done, 1 failed",
  );
  assert.equal(rowInWords(row({ state: "running", files_done: 1 })), "1 of 4 files");
  assert.equal(rowInWords(row({ state: "done", files_done: 4, reused: 4 })), "4 files, unchanged");
});

test("only changes of state and quarters are announced", () => {
  const at = (/** @type {number} */ share) => job({ progress: { share } });
  assert.equal(newsOfListing(undefined, at(0.5)), "");
  assert.equal(newsOfListing(at(0.1), at(0.2)), "");
  assert.equal(newsOfListing(at(0.2), at(0.6)), "Spring: 50 % done.");
  assert.equal(newsOfListing(at(0.9), job({ state: "done" })), "Spring: done.");
  assert.equal(newsOfListing(job({ state: "queued" }), at(0)), "Spring: running.");
});

test("a plan in words", () => {
  /** @type {Planned} */
  const one = {
    version: "v",
    name: "n",
    clips: 6,
    files: 12,
    left_out: [],
    problems: [],
    positions: [],
    knobs: [],
    switches: {},
  };
  assert.equal(
    planInWords({ clips: 6, files: 12, seconds: 61, instruments: [one, { ...one, clips: 0 }] }),
    "1 instrument, 6 clips in 12 files, 1 min 01 s of sound.",
  );
  assert.match(planInWords({ clips: 0, files: 0, seconds: 0, instruments: [] }), /no clips/);
});

test("problems in words, the first few of many", () => {
  const lost = (/** @type {string} */ name) => row({ name, state: "failed", problems: ["why."] });
  assert.deepEqual(problemsOf(job({ report: { problems: ["disk full"] } })), ["disk full"]);
  assert.deepEqual(problemsOf(job({ instruments: [lost("A"), row(), lost("B")] })), ["A: why.", "B: why."]);
  assert.deepEqual(problemsOf(job({ instruments: ["A", "B", "C", "D", "E"].map(lost) })).slice(2), [
    "C: why.",
    "2 more instruments failed; see below.",
  ]);
});
