/** The finished guitar's page and the fault finder: a server that refuses, other windows, other wirings. */

import assert from "node:assert/strict";
import { beforeEach, test } from "node:test";

import { find, press, settle, tell } from "./page_help.js";
import { exciterPart } from "../../web/js/built/exciter_part.js";
import { keepPart } from "../../web/js/built/keep_part.js";
import { rigPart } from "../../web/js/built/rig_part.js";
import { builtView } from "../../web/js/built/view.js";
import { answerView } from "../../web/js/checking/faults_answer.js";
import { faultsView } from "../../web/js/checking/faults_view.js";
import { startNotices } from "../../web/js/shared/notices.js";
import { startFaults } from "../../web/js/session/faults.js";

// toasts go by themselves after seconds that no test waits for
const plainTimeout = globalThis.setTimeout;
globalThis.setTimeout = (act, ms = 0) => (ms > 1000 ? 0 : plainTimeout(act, ms));

const version = (id, number) => ({ id, number, note: "", created: "2026-11-03T10:00:00Z" });
const COMMISSION = {
  wirings: [
    { id: "w", name: "One coil", versions: [version("v1", 1), version("v2", 2)] },
    { id: "other", name: "Another", versions: [version("o1", 1)] },
  ],
};
const SETTINGS = ["1", "1 tone=5"];
const PLAN = {
  cautions: [],
  spreads: [],
  exciter: { cautions: [], parts: [], steps: [], coils: [] },
  settings: SETTINGS.map((setting) => ({
    setting,
    position: setting,
    label: "",
    controls: [],
    points: [{ what: "meter", title: "", expected: "8 kΩ", band: "" }],
  })),
};
const place = (setting) => ({ setting, position: setting, label: "", switches: {}, knobs: {} });
const FORM = { heard: [], knobs: [], words: [], read: SETTINGS.map(place) };

/** What the server keeps, by wiring; what was asked of it; whether it keeps anything. */
let fields, asked, away, signed, thrown, judged, wrong;
beforeEach(() => {
  [fields, asked, away, signed, thrown] = [{ w: {}, other: {} }, [], false, {}, null];
  [judged, wrong] = [null, null];
});
const stateOf = (wiring) => ({
  rig: { open: null, short: null, known: null },
  recordings: {},
  fields: {
    version: "",
    known: "",
    serial: "",
    day: "",
    notes: "",
    of: "",
    base: 0,
    sides_kept: true,
    excited: {},
    meter: {},
    ...fields[wiring],
  },
  signed,
  waiting: "",
  judged,
  thrown: thrown !== null,
});
globalThis.fetch = async (path, { method, body } = {}) => {
  const { pathname, searchParams } = new URL(path, "http://here");
  const sent = body && JSON.parse(body);
  const wiring = searchParams.get("wiring");
  asked.push({ method, pathname, wiring, sent });
  const say = (answer) => new Response(JSON.stringify(answer), { status: 200 });
  if (method !== "GET" && away) {
    const problems = [{ where: "the server", got: "no room", allowed: "some" }];
    return new Response(JSON.stringify({ problems }), { status: 507 });
  }
  if (pathname === "/api/built/plan") return say(PLAN);
  if (pathname === "/api/built/instruments")
    return say(method === "GET" ? [] : { serial: "26-014", verdict: { text: "fine" } });
  if (pathname === "/api/rig") return say({ cautions: ["Heed."], exciter_cautions: ["Keep the resistor."] });
  if (pathname === "/api/faults") return say({ id: "s", after: 1, state: "done", form: FORM });
  if (pathname === "/api/faults/answer" && wrong)
    return new Response(JSON.stringify({ problems: [wrong] }), { status: 422 });
  if (pathname === "/api/faults/answer") return say(ANSWER);
  if (method === "DELETE") [thrown, fields[wiring]] = [fields[wiring], {}];
  if (pathname === "/api/built/readings/back") {
    const { meter, serial } = fields[wiring],
      stands = Object.values(meter ?? {}).some(Boolean) || serial;
    [fields[wiring], thrown] = [thrown, stands ? fields[wiring] : null];
  }
  if (method === "PUT") {
    const meter = { ...fields[wiring].meter, ...sent.meter };
    fields[wiring] = { ...fields[wiring], ...sent, meter };
  }
  return say(stateOf(wiring));
};
const puts = () => asked.filter(({ method }) => method === "PUT");
const ANSWER = {
  classes: [],
  unexplained: null,
  next: null,
  clear: false,
  unseen: [],
  harmless: [],
  readings: 1,
};

/** Enough of a session for a view. */
function sessionOf(view) {
  const heard = [];
  let state = {
    commission: COMMISSION,
    view,
    current: 0,
    slots: [{ version: "v1", edits: [], position: "1", knobs: {}, switches: {} }],
    before: false,
    unfinished: {},
    faults: { ...startFaults(), open: true },
  };
  return {
    get: () => state,
    slot: () => state.slots[state.current],
    on: (keys, act) => heard.push({ keys, act }),
    signal: new AbortController().signal,
    set(change) {
      const was = state;
      state = { ...state, ...change };
      for (const { keys, act } of heard) if (keys.some((key) => key in change)) act(state, was);
    },
  };
}
const wait = async (ms = 80) => {
  await new Promise((done) => plainTimeout(done, ms));
  await settle();
};
/** Wait until something holds, two seconds at most. @param {() => boolean} holds */
async function until(holds) {
  for (let i = 0; i < 40 && !holds(); i++) await wait(50);
}
/** Type into the field of a label. */
async function write(view, label, text, kind = "input") {
  const field = find(view, "input", "aria-label", label);
  field.value = text;
  tell(field, kind);
  await wait();
  return field;
}
async function openBuilt() {
  const view = builtView(sessionOf("built"));
  await wait();
  return view;
}

test("a guitar is not kept while the server does not keep what was typed", async () => {
  const view = await openBuilt();
  away = true;
  await write(view, "Meter, Position 1", "9k");
  press(view, "Keep this guitar");
  await wait(160);
  const kept = () =>
    asked.filter(({ method, pathname }) => method === "POST" && pathname.endsWith("instruments"));
  assert.equal(kept().length, 0);
  const part = find(view, "section", "aria-label", "The workshop's record");
  assert.match(part.textContent, /no room/);
  away = false;
  press(view, "Keep this guitar");
  await wait(160);
  assert.equal(kept().length, 1);
  assert.deepEqual(fields.w.meter, { 1: "9k" });
  assert.equal(fields.w.version, "v1");
});

test("another version is not shown while the server does not keep that it is chosen", async () => {
  const view = await openBuilt();
  away = true;
  const against = find(view, "select");
  against.value = "v2";
  tell(against, "change");
  await wait(160);
  assert.equal(against.value, "v1");
  assert.match(view.textContent, /no room/);
  assert.equal(asked.filter(({ pathname }) => pathname.endsWith("plan")).length, 1);
});

test("a window sends what was typed in it alone, and shows what others typed", async () => {
  const view = await openBuilt();
  fields.w = { meter: { "1 tone=5": "8.2k" }, serial: "26-014" };
  await write(view, "Meter, Position 1", "9k");
  assert.deepEqual(puts().at(-1).sent, { version: "v1", meter: { 1: "9k" } });
  assert.deepEqual(fields.w.meter, { 1: "9k", "1 tone=5": "8.2k" });
  assert.equal(find(view, "input", "aria-label", "Meter, Position 1 tone=5").value, "8.2k");
  assert.equal(find(view, "input", "placeholder", "26-014").value, "26-014");
});

test("no guitar is kept while a recording of it is on its way", async () => {
  let typed = 0;
  const part = keepPart({
    wiring: "w",
    fields: stateOf("w").fields,
    type: () => Promise.resolve(),
    typeSurely: async () => void (typed += 1),
    filled: () => false,
    reload: () => {},
    ending: new AbortController().signal,
  });
  part.wait(1);
  assert.throws(() => press(part.element, "Keep this guitar"), /disabled/);
  assert.match(part.element.textContent, /is on its way/);
  part.wait(0);
  press(part.element, "Keep this guitar");
  await wait();
  assert.equal(typed, 1);
});

test("a calibration that serves every guitar is not thrown away unasked", async () => {
  const came = { name: "open.wav", came: "2026-11-03T10:00:00Z", frequencies: 9 };
  const part = rigPart({
    plan: PLAN,
    known: "",
    where: { wiring: "w", version: "v1" },
    type: () => {},
    came: () => {},
    coming: () => {},
    ending: new AbortController().signal,
  });
  part.update({ ...stateOf("w"), rig: { open: came, short: null, known: null } });
  tell(find(part.element, "button", "aria-label", "Throw away: Open"), "click");
  await wait();
  assert.equal(asked.length, 0);
  press(globalThis.document.body, "Throw it away");
  await wait();
  assert.deepEqual(
    asked.map(({ method }) => method),
    ["DELETE"],
  );
});

test("readings that are thrown away come back, by the message or by the button that stays", async () => {
  const page = globalThis.document.body;
  startNotices(page);
  const view = await openBuilt();
  for (const [place, name] of [
    [page, "Undo"],
    [view, "Bring the readings back"],
  ]) {
    await write(view, "Meter, Position 1", "8.1k");
    press(view, "Throw these readings away");
    await wait();
    assert.deepEqual(fields.w, {});
    press(place, name);
    await wait();
    assert.equal(fields.w.meter["1"], "8.1k");
    assert.equal(find(view, "input", "aria-label", "Meter, Position 1").value, "8.1k");
  }
});

test("readings are thrown away once, however often it is pressed", async () => {
  const view = await openBuilt();
  await write(view, "Meter, Position 1", "8.1k");
  press(view, "Throw these readings away");
  assert.throws(() => press(view, "Throw these readings away"), /is disabled/);
  await wait();
  assert.equal(asked.filter(({ method }) => method === "DELETE").length, 1);
  assert.throws(() => press(view, "Throw these readings away"), /is hidden/);
});

test("a value typed since is exchanged with the readings that come back", async () => {
  const page = globalThis.document.body;
  startNotices(page);
  const view = await openBuilt();
  await write(view, "Meter, Position 1", "8.1k");
  press(view, "Throw these readings away");
  await wait();
  const field = find(view, "input", "aria-label", "Meter, Position 1");
  for (const text of ["9", "9k"]) {
    field.value = text;
    tell(field, "input");
  }
  press(page, "Undo"); // at once: the second value is not on its way yet
  await wait(160);
  assert.deepEqual([fields.w.meter, thrown.meter], [{ 1: "8.1k" }, { 1: "9k" }]);
  press(view, "Exchange with the readings thrown away");
  await wait(160);
  assert.deepEqual([fields.w.meter, thrown.meter], [{ 1: "9k" }, { 1: "8.1k" }]);
});

test("a serial number alone can be thrown away too", async () => {
  fields.w = { serial: "26-014" };
  const view = await openBuilt();
  press(view, "Throw these readings away");
  await wait();
  assert.equal(thrown.serial, "26-014");
});

test("a reading of the fault finder stays with the wiring that it was read at", async () => {
  const page = globalThis.document.body;
  startNotices(page);
  const session = sessionOf("bench");
  signed = { v1: "2026-11-04" };
  session.set({ slots: [{ ...session.slot(), version: "v2" }] });
  const view = faultsView(session);
  await wait();
  const field = find(view, "input", "aria-label", "The meter: Position 1");
  field.value = "9k";
  tell(field, "change");
  session.set({ slots: [{ ...session.slot(), version: "o1" }] }); // at once
  await wait();
  assert.deepEqual([fields.w.meter, fields.other.meter], [{ 1: "9k" }, undefined]);
  assert.equal(fields.w.version, "v1", "by what it is judged is not the bench's");
  session.set({ slots: [{ ...session.slot(), version: "v2" }] });
  await wait();
  press(view, "Throw these readings away");
  await wait();
  assert.deepEqual(fields.w.meter, { 1: "" });
  assert.deepEqual(puts().at(-1).sent, { meter: { 1: "" } });
  session.set({ slots: [{ ...session.slot(), version: "o1" }] });
  await wait();
  press(page, "Undo");
  await wait();
  assert.deepEqual([fields.w.meter, fields.other.meter], [{ 1: "9k" }, undefined]);
});

test("what is wrong with a reading that has no field is said above", async () => {
  globalThis.document.body.replaceChildren();
  judged = { readings: [], text: "setting;what;value\n1;exciter a at 900 Hz;loud\n" };
  judged.verdict = { text: "", read: 1, planned: 1, outside: 0 };
  wrong = { where: "readings:2", got: "loud", allowed: "a sign and a level" };
  const view = faultsView(sessionOf("bench"));
  await until(() => /Got loud/.test(view.textContent));
  assert.match(view.textContent, /exciter a at 900 Hz, position 1: Got loud; allowed: a sign and a level/);
  assert.match(view.textContent, /Keep the resistor/, "the exciter's caution is here too");
  wrong = null;
  find(view, "input", "aria-label", "The meter: Position 1").value = "9k";
  tell(find(view, "input", "aria-label", "The meter: Position 1"), "change");
  await until(() => /tells more/.test(view.textContent));
  assert.doesNotMatch(view.textContent, /Got loud/);
  assert.doesNotMatch(view.textContent, /an exciter may/, "one was used");
});

test("a level shows the band that it is judged by", () => {
  const point = { what: "exciter a at 900 Hz", expected: "-4.8 dB", band: "-6.7 dB to -3.1 dB" };
  const coil = { coil: "a", typed: point.what, settings: [{ setting: "1", points: [point] }], blade: [] };
  const plan = { ...PLAN, exciter: { ...PLAN.exciter, steps: ["Go."], coils: [coil] } };
  const part = exciterPart({ plan, fields: stateOf("w").fields, type: () => {}, bring: async () => {} });
  assert.match(part.element.textContent, /-6.7 dB to -3.1 dB/);
  const one = { setting: "1", what: point.what, value: "", side: "within", read: "", words: "" };
  judged = { readings: [{ ...one, expected: "loudest, sign +", band: "" }] };
  part.update(stateOf("w"));
  assert.match(part.element.textContent, /loudest, sign \+/);
  assert.doesNotMatch(part.element.textContent, /-6.7/);
  judged = { readings: [] };
  part.update(stateOf("w"));
  assert.match(part.element.textContent, /-6.7 dB to -3.1 dB/, "the plan's again");
  const links = part.element.all().filter((each) => each.tag === "a");
  assert.match(links[0].href ?? links[0].attributes.get("href"), /rig.tone/);
});

test("nothing is answered of a wiring that is no longer looked at", () => {
  let lit = ["none"];
  const view = answerView({ light: (terminals) => (lit = terminals), enter: () => {} });
  const open = { kind: "open", text: "the joint at a is open", terminals: ["a.b"] };
  const answer = { ...ANSWER, classes: [{ probability: 1, sound: false, faults: [open] }] };
  const tools = { rig: false, exciter: true, sides_kept: true };
  view.show(answer, FORM, tools);
  tell(
    view.element.all().find((one) => one.classList.contains("fault-line")),
    "click",
  );
  assert.deepEqual(lit, ["a.b"]);
  assert.match(view.element.textContent, /of the meter tells more; the rig may/);
  view.show(answer, FORM, { ...tools, rig: true, exciter: false });
  assert.match(view.element.textContent, /tells more; an exciter may/);
  view.show(answer, FORM, { ...tools, rig: true });
  assert.match(view.element.textContent, /No further reading tells more/);
  view.show({ ...answer, clear: true }, FORM, tools);
  assert.match(view.element.textContent, /clear enough/);
  view.clear();
  assert.deepEqual(lit, []);
  assert.doesNotMatch(view.element.textContent, /open/);
});
