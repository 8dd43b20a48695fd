import assert from "node:assert/strict";
import { test } from "node:test";
import {
  arrivalInWords,
  newsOf,
  proposalsInWords,
  reachInWords,
  recordInWords,
  savedWords,
  signatureInWords,
  stateOf,
  warningOf,
  warningsInWords,
  whyNoSound,
  wishesInWords,
} from "../../web/js/proposals/words.js";

/** @param {Partial<import("../../web/js/shared/types.js").Proposal>} [change] */
const row = (change) => ({
  id: "a",
  title: "Six sounds",
  seen: null,
  comments: [],
  signoff: null,
  items: [{ number: 2, label: "Both" }],
  ...change,
});

test("the first look has no news", () => assert.deepEqual(newsOf([], [row({ seen: "now" })]), []));

test("the customer's new acts are reported once, with the sound's own name", () => {
  const now = row({
    seen: "now",
    comments: [{ id: "n", number: 2, text: "this one?" }],
    wishes: [{ id: "w", number: 2, knobs: { bridge_tone: 3.5 } }],
    signoff: { label: "Both", name: "A. B.", date: "2026-03-12" },
  });
  const news = newsOf([row()], [now]);
  assert.equal(news.length, 4);
  assert.ok(news.includes("On Both: “wishes bridge tone 3.5”"));
  assert.ok(news.some((text) => text.includes("A. B. chose “Both”")));
  assert.ok(news.some((text) => text === "On Both: “this one?”"));
  assert.deepEqual(newsOf([now], [now]), []);
});

test("a wish becomes a sound while its proposal is open, and else says why not", () => {
  assert.equal(whyNoSound(row()), "");
  assert.equal(whyNoSound({ state: "open" }), "");
  assert.match(whyNoSound({ state: "signed" }), /^Signed: nothing changes any more/);
  for (const state of /** @type {const} */ (["expired", "revoked"]))
    assert.match(whyNoSound({ state }), /make a new link/);
});

test("signed comes before open, and ended links are not reported", () => {
  assert.equal(proposalsInWords([row(), row({ signoff: { label: "", name: "", date: "" } })]), "signed");
  assert.equal(proposalsInWords([row()]), "proposed");
  assert.equal(proposalsInWords([row({ unread: 2 }), row({ unread: 1 })]), "proposed · 3 new");
  assert.equal(proposalsInWords([row({ revoked: true })]), "");
  assert.equal(stateOf(undefined), "gone");
});

test("a valid record says so, an invalid one says why", () => {
  assert.match(recordInWords("Six", { holds: true, problems: [] }), /“Six” is intact/);
  assert.match(
    recordInWords("Six", { holds: false, problems: ["a clip is gone", "a wiring changed"] }),
    /is not intact: a clip is gone; a wiring changed\.$/,
  );
});

/** @typedef {import("../../web/js/proposals/words.js").Place} Place */
/** @param {Place["reach"]} reach @returns {Place} */
const place = (reach) => ({ url: "http://here/p/x", reach, code: "" });

test("a link that nobody else can open warns and names the address of the network", () => {
  const here = place("machine");
  const alone = { link: "/p/x", links: [here], nearby: ["192.0.2.20"] };
  assert.match(warningOf(here, alone), /this computer alone.*--host 0\.0\.0\.0.*192\.0\.2\.20/);
  assert.doesNotMatch(warningOf(here, { ...alone, nearby: [] }), /find it at/);
  assert.match(warningOf(here, { ...alone, links: [place("network"), here] }), /Choose another/);
});

test("a link that others can open says where", () => {
  for (const reach of /** @type {const} */ (["anywhere", "network"])) {
    assert.equal(warningOf(place(reach), { link: "", links: [place(reach)], nearby: [] }), "");
  }
  assert.match(reachInWords(place("anywhere")), /anywhere/);
  assert.match(reachInWords(place("network")), /network alone/);
});

/** @param {Partial<import("../../web/js/shared/types.js").Answer>} [change] */
const answer = (change) => ({
  sha256: "a",
  proposal: "p",
  commission: "c",
  commission_title: "Baritone",
  title: "Six sounds",
  sent: "2026-03-03T10:00:00.000Z",
  written: "2026-03-04T10:00:00.000Z",
  received: "2026-03-09T10:00:00.000Z",
  items: [{ number: 2, label: "Both" }],
  favourites: [],
  notes: [],
  wishes: [{ number: 2, knobs: { tone: 6.5, neck_volume: 10 } }],
  heard: [],
  signature: null,
  warnings: [],
  ...change,
});

test("an answer says what it answers, and that it came before", () => {
  assert.match(
    arrivalInWords(answer()),
    /^An answer to “Six sounds”, sent .*3.*, written .*4.*, taken in .*9/,
  );
  assert.match(arrivalInWords(answer({ again: true })), /^Taken in before: an answer/);
  assert.deepEqual(wishesInWords(answer()), ["Wishes Both with tone 6.5, neck volume 10."]);
});

test("each state of a signature has its sentence", () => {
  assert.equal(signatureInWords(answer()), "");
  const said = (/** @type {import("../../web/js/shared/types.js").AnswerSignature["state"]} */ state) =>
    signatureInWords(answer({ signature: { label: "Both", name: "R. Winter", date: "2026-03-04", state } }));
  assert.match(said("signed"), /^Signed: R. Winter chose “Both” on .*\. The sign-off is recorded\.$/);
  assert.match(said("signed before"), /as signed before/);
  assert.match(said("second"), /^Not recorded: .* signed already/);
  assert.match(said("waiting"), /Ask the customer first/);
});

test("each warning of the server has its sentence", () => {
  const day = "2026-03-03T10:00:00.000Z";
  const facts = { sent: day, newer: day, closed: day, expires: day, written: day, received: day };
  const kinds = ["older", "closed", "expired", "second", "clock", "unheard"];
  const warnings = kinds.map((kind) => ({
    kind,
    asks: true,
    numbers: [2],
    label: "Both",
    name: "X",
    date: day,
    ...facts,
  }));
  const said = warningsInWords(answer({ warnings }));
  assert.equal(new Set(said).size, kinds.length);
  for (const text of said) {
    assert.doesNotMatch(text, /undefined|odd|Invalid/);
    assert.match(text, /\.$/);
  }
  assert.match(said[5], /“Both”/);
});

test("what was saved is said, with what to know before it is sent", () => {
  assert.equal(savedWords("sounds.html", 2_600_000, ""), "Saved as sounds.html, 2.6 MB.");
  assert.equal(savedWords("a.html", 30e6, "Too large."), "Saved as a.html, 30.0 MB. Too large.");
});
