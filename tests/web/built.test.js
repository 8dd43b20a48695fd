/** What is said of a finished guitar, which version it is judged against, and the readings that travel. */

import assert from "node:assert/strict";
import { test } from "node:test";

import "./page_help.js";
import {
  readingsText,
  readingsVersion,
  setPresent,
  startVersion,
  withChange,
} from "../../web/js/built/readings.js";
import {
  aboutText,
  editsText,
  leftText,
  settingText,
  SIDES,
  sidesText,
  today,
  verdictLook,
  verdictSign,
  verdictText,
  versionText,
} from "../../web/js/built/words.js";

const VERSIONS = [1, 2, 3].map((number) => ({
  id: `v${number}`,
  number,
  note: number === 3 ? "another tone" : "",
  created: "2026-11-03T10:00:00Z",
}));
const WIRING = { id: "w", name: "One coil", versions: VERSIONS };
const readings = (version, signed) => ({ fields: { version, known: "", meter: {} }, signed });

test("a guitar is judged against the version of last time, else the one signed last, else the bench's", () => {
  assert.equal(startVersion(WIRING, readings("v1", { v2: "2026-11-04" }), "v3"), "v1");
  assert.equal(startVersion(WIRING, readings("", { v1: "2026-11-03", v2: "2026-11-04" }), "v3"), "v2");
  assert.equal(startVersion(WIRING, readings("gone", {}), "v3"), "v3");
});

test("each side of a band has a sign and a word of its own, so that colour is not needed", () => {
  const said = Object.values(SIDES);
  assert.equal(new Set(said.map(({ sign }) => sign)).size, said.length);
  assert.equal(new Set(said.map(({ word }) => word)).size, said.length);
});

test("a setting, a version and a verdict in words", () => {
  const controls = [{ name: "tone_2", value: "5" }];
  assert.equal(settingText({ position: "2", controls }), "Position 2, Tone 2 at 5");
  assert.equal(versionText(VERSIONS[2], undefined), "Version 3, another tone");
  assert.match(versionText(VERSIONS[2], "2026-11-04"), /^Version 3, signed .*2026/);
  const verdict = { text: "two readings outside", read: 5, planned: 5, outside: 2 };
  assert.equal(verdictText(verdict), "Two readings outside.");
  assert.deepEqual([verdictLook(verdict), verdictSign(verdict)], ["bad", "▲"]);
  assert.deepEqual(
    [verdictLook({ ...verdict, outside: 0 }), verdictSign({ ...verdict, outside: 0 })],
    ["ok", "✓"],
  );
  assert.equal(verdictLook({ ...verdict, read: 0, outside: 0 }), "soft");
  assert.equal(leftText(0), "");
  assert.match(leftText(1), /^1 reading of .* stays as it is/);
  const kept = { day: "2026-11-04", version_number: 2, signed: "" };
  assert.match(aboutText(kept), /^read on .*2026 · version 2, not signed for$/);
  assert.equal(today(new Date(2026, 2, 5)), "2026-03-05");
  assert.equal(editsText(0), "");
  assert.match(editsText(2), /saved version/);
});

test("the readings travel as the table that stands in the fields", () => {
  assert.equal(readingsText(), "setting;what;value\n");
  const text = "setting;what;value\n1;meter;7,1k\n";
  setPresent("w", { ...readings("v2", {}), judged: { text } });
  assert.deepEqual([readingsText(), readingsVersion()], [text, "v2"]);
});

test("an exciter's readings change one by one", () => {
  const before = { excited: { "exciter a at 900 Hz": { 1: "+ -40 dB", 2: "silent" } } };
  const after = withChange(before, { excited: { "exciter a at 900 Hz": { 2: "" }, "blade a": { 1: "+" } } });
  assert.deepEqual(after.excited, {
    "exciter a at 900 Hz": { 1: "+ -40 dB", 2: "" },
    "blade a": { 1: "+" },
  });
  assert.equal(withChange({ known: "" }, { known: "1k" }).excited, undefined);
});

test("a kept guitar says where the exciter's sides were free", () => {
  const readings = [{ what: "exciter a at 900 Hz" }];
  assert.match(sidesText({ verdict: { sides_kept: false }, readings }), /from coil to coil/);
  assert.equal(sidesText({ verdict: {}, readings }), "", "kept before anybody asked");
  assert.equal(sidesText({ verdict: { sides_kept: false }, readings: [{ what: "meter" }] }), "");
});
