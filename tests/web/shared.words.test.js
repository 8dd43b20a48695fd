import assert from "node:assert/strict";
import { test } from "node:test";
import { stopsOf } from "../../web/js/session/stops.js";
import {
  fixed,
  onTravel,
  showDb,
  showHz,
  showOhm,
  showSeconds,
  withUsualUnit,
} from "../../web/js/shared/units.js";
import {
  counted,
  evennessInWords,
  coilPlacesText,
  knobInWords,
  shownFindings,
} from "../../web/js/shared/words.js";

/** @import {Facts} from "../../web/js/shared/types.js" */

test("a number alone takes the unit of its field", () => {
  const field = { form: "quantity", value: "101 mm" };
  assert.equal(withUsualUnit("144", field), "144 mm");
  assert.equal(withUsualUnit("144 cm", field), "144 cm");
  assert.equal(withUsualUnit("", field), "");
  assert.equal(withUsualUnit("4k7", { form: "quantity", value: "250 kΩ" }), "4k7");
  assert.equal(withUsualUnit(".5", { form: "quantity", value: "22n" }), ".5 n");
  assert.equal(
    withUsualUnit("12", { form: "quantity", value: "", inherited: "8 mm", default: "1 m" }),
    "12 mm",
  );
  assert.equal(withUsualUnit("12", { form: "quantity", value: "0.16", default: "" }), "12");
  assert.equal(withUsualUnit("12", { form: "note", value: "E2" }), "12");
});

test("the level that stands for no signal is silence", () => {
  assert.equal(showDb(-160), "silent");
  assert.equal(showDb(-159), "−159.0 dB");
});

test("numbers as a meter shows them", () => {
  assert.equal(showOhm(8120), "8.12 kΩ");
  assert.equal(showOhm(10284), "10.3 kΩ");
  assert.equal(showOhm(497600), "498 kΩ");
  assert.equal(showOhm(1.2e6), "1.20 MΩ");
  assert.equal(showOhm(0), "0.00 Ω");
  assert.equal(showOhm(null), "open");
  assert.equal(showHz(3211), "3.21 kHz");
  assert.equal(showHz(583.4), "583 Hz");
  assert.equal(showHz(null), "none");
  assert.equal(showSeconds(13.115), "13.1 s");
  assert.equal(showSeconds(125), "2 min 05 s");
});

test("a true minus sign, and none before zero", () => {
  assert.equal(fixed(-0.04), "0.0");
  assert.equal(showDb(-3.14), "−3.1 dB");
  assert.equal(showDb(2, true), "+2.0 dB");
  assert.equal(showDb(0.01, true), "0.0 dB");
  assert.equal(showDb(null), "silent");
});

test("a knob stays on its travel and on its tenths", () => {
  assert.deepEqual([-1, 3.14159, 6.45, 11].map(onTravel), [0, 3.1, 6.5, 10]);
  assert.equal(knobInWords("tone_b", 6.4), "Tone b 6.4 of 10");
  assert.equal(knobInWords("volume", 10), "Volume fully up");
});

/** @param {Partial<Facts>} change @returns {Facts} */
const facts = (change) => ({
  position: "1",
  label: "",
  connection: [{ kind: "coil", name: "neck" }],
  connection_text: "neck",
  coils: ["neck"],
  hum_db: -0.6,
  hum: "hums",
  level_db: -20,
  clean_level_db: -33,
  resonances: [{ frequency_hz: 4000 }],
  brightness_hz: 900,
  meter_ohm: 5900,
  words: ["bright", "softer"],
  nearest: null,
  findings: [],
  ...change,
});

test("levels are relative to the loudest, silence has its own word", () => {
  const rows = stopsOf([
    facts({}),
    facts({ position: "2", level_db: -12.5, hum: "none", hum_db: -101 }),
    facts({ position: "3", level_db: null, hum: "silent", meter_ohm: null }),
  ]);
  assert.deepEqual(
    rows.map(({ level }) => level),
    ["−7.5 dB", "0.0 dB", "silent"],
  );
  assert.deepEqual(
    rows.map(({ hum }) => hum),
    ["hums", "no hum", "silent"],
  );
  assert.equal(rows[2].meter, "open");
  assert.equal(stopsOf([facts({ hum_db: -17.8, hum: "little" })])[0].hum, "little −18 dB");
  assert.equal(rows[0].name, "Position 1");
});

test("levels through clean stand beside those as wired", () => {
  const [first, second, silent] = stopsOf([
    facts({}),
    facts({ position: "2", level_db: -12.5, clean_level_db: -34.5 }),
    facts({ position: "3", level_db: null, clean_level_db: null }),
  ]).map(({ details }) => details);
  assert.match(first, /−7\.5 dB as wired, 0\.0 LU through clean, below the loudest/);
  assert.match(second, /0\.0 dB as wired, −1\.5 LU through clean/);
  assert.doesNotMatch(silent, /through clean/);
});

test("a row names the position that it can hardly be told from, and no other", () => {
  const clean = { distance_db: 0.3, level_db: 0.1 };
  const near = { position: "3", distance_db: 0.31, largest_db: 0.62, level_db: -0.2, clean };
  const [edge, heard, alone] = stopsOf([
    facts({ nearest: { ...near, heard: "at the edge" } }),
    facts({ nearest: { ...near, largest_db: 4.04, heard: "heard" } }),
    facts({}),
  ]);
  assert.equal(edge.alike, "most like 3 (0.6 dB in the band that differs most, level −0.2 dB: at the edge)");
  assert.equal(heard.alike, "");
  assert.match(heard.details, /most like 3 \(4\.0 dB .*: heard\)/);
  assert.equal(alone.alike, "");
});

test("through a chain the distance is the one weighted by loudness, direct the unweighted", () => {
  const nearest = {
    position: "3",
    distance_db: 0.31,
    largest_db: 0.62,
    level_db: -0.2,
    clean: { distance_db: 1.27, level_db: -0.84 },
    heard: "at the edge",
  };
  const [direct, amplified] = [false, true].map((is) => stopsOf([facts({ nearest })], is)[0]);
  const weighted = "1.3 dB of timbre through clean, weighted by loudness, level −0.8 LU; direct: at the edge";
  assert.equal(amplified.alike, `most like 3 (${weighted})`);
  assert.ok(amplified.details.includes(weighted));
  assert.ok(!direct.details.includes("weighted") && direct.details.includes("0.6 dB in the band"));
});

test("a row counts faults, not notes", () => {
  const finding = (/** @type {string} */ severity) => ({
    finding: "x",
    severity,
    text: "",
    lugs: [],
    positions: [],
  });
  assert.equal(
    stopsOf([facts({ findings: ["error", "warning", "note", "reminder"].map(finding) })])[0].findings,
    2,
  );
});

test("findings come gravest first; hum has its own column", () => {
  const all = ["note", "reminder", "error", "warning"].map((severity) => ({
    finding: severity,
    severity,
    text: severity,
    lugs: [],
    positions: [],
  }));
  all.push({ finding: "not hum-cancelling", severity: "note", text: "", lugs: [], positions: [] });
  assert.deepEqual(
    shownFindings(all).map(({ severity }) => severity),
    ["error", "warning", "reminder", "note"],
  );
});

test("a recording is never labelled as the string model", () => {
  const take = (/** @type {string} */ kind, /** @type {string} */ places) => ({
    id: "",
    name: "",
    kind,
    seconds: 1,
    coil_places: places,
    warnings: [],
  });
  assert.match(coilPlacesText(take("score", "modelled")), /string model/);
  assert.equal(coilPlacesText(take("mono", "not modelled")), "a recording; coil places not modelled");
});

test("evenness in a sentence", () => {
  assert.equal(evennessInWords(0.9, 5), "works evenly");
  assert.equal(evennessInWords(0.2, 5), "nine tenths of its effect lie within 2 of 10");
  assert.equal(evennessInWords(0, 0), "no effect here");
  assert.deepEqual([counted(1, "finding"), counted(2, "finding")], ["1 finding", "2 findings"]);
});
