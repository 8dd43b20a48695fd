import assert from "node:assert/strict";
import { test } from "node:test";
import {
  newsOf,
  proposalsInWords,
  reachInWords,
  recordInWords,
  stateOf,
  warningOf,
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
    comments: [{ number: 2, text: "this one?" }],
    signoff: { number: 2, name: "A. B.", date: "2026-03-12" },
  });
  const news = newsOf([row()], [now]);
  assert.equal(news.length, 3);
  assert.ok(news.some((text) => text.includes("A. B. chose “Both”")));
  assert.ok(news.some((text) => text === "On Both: “this one?”"));
  assert.deepEqual(newsOf([now], [now]), []);
});

test("signed comes before open, and ended links are not reported", () => {
  assert.equal(proposalsInWords([row(), row({ signoff: { number: 1, name: "", date: "" } })]), "signed");
  assert.equal(proposalsInWords([row()]), "proposed");
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
