import assert from "node:assert/strict";
import { test } from "node:test";
import { withUnsent } from "../../web/js/customer/talk.js";
import { saidWords, sendingWords } from "../../web/js/customer/sending_words.js";
import { whereWords } from "../../web/js/customer/words.js";

/** @typedef {import("../../web/js/customer/operation.js").Operation} Operation */

const ME = "me",
  OTHER = "other",
  WHEN = "2026-11-29T10:00:00.000Z";
/** @param {object} more @returns {import("../../web/js/customer/words.js").Served} */
const served = (more) =>
  /** @type {any} */ ({
    favourites: [],
    marks: [],
    comments: [],
    wishes: [],
    place: 0,
    looked: 0,
    unread: 0,
    after: 1,
    ...more,
  });
const mark = (/** @type {number} */ number, device = ME, place = 1) => ({ number, device, place });
const said = (/** @type {string} */ id, /** @type {object} */ more) => ({
  id,
  number: 1,
  device: ME,
  place: 1,
  when: WHEN,
  replies: [],
  ...more,
});
let order = 0;
const entry = (/** @type {object} */ operation, why = "") => ({
  operation: /** @type {Operation} */ ({ id: `op${(order += 1)}`, written: WHEN, ...operation }),
  order,
  why,
});

test("what waits here is shown as if it were sent, and says that it is not", () => {
  const offer = withUnsent(
    served({ marks: [mark(1)], favourites: [1], comments: [said("a", { text: "first" })], place: 2 }),
    [
      entry({ kind: "favourite", number: 3 }),
      entry({ kind: "unfavourite", number: 1, seen: 2 }),
      entry({ kind: "note", number: 1, text: "second" }),
      entry({ kind: "wish", number: 2, knobs: { tone: 3 } }),
    ],
    ME,
  );
  assert.deepEqual(offer.favourites, [3]);
  assert.deepEqual(
    offer.comments.map(({ text, state }) => [text, state]),
    [
      ["first", "sent"],
      ["second", "here"],
    ],
  );
  assert.deepEqual(
    offer.wishes.map(({ knobs, state }) => [knobs, state]),
    [[{ tone: 3 }, "here"]],
  );
  assert.equal(offer.unsent, 4);
});

test("a mark of another phone that was not shown here stays", () => {
  const back = [entry({ kind: "unfavourite", number: 1, seen: 2 })];
  const marks = (/** @type {number} */ place) => served({ marks: [mark(1, OTHER, place)], favourites: [1] });
  assert.deepEqual(withUnsent(marks(2), back, ME).favourites, []);
  assert.deepEqual(withUnsent(marks(3), back, ME).favourites, [1]);
});

test("an operation that the server has, whose answer was lost, is there once", () => {
  const note = entry({ kind: "note", number: 1, text: "first" });
  const offer = withUnsent(served({ comments: [said(note.operation.id, { text: "first" })] }), [note], ME);
  assert.equal(offer.comments.length, 1);
  assert.equal(offer.comments[0].state, "sent");
  assert.equal(offer.unsent, 0);
});

test("seen is said of what the workshop has seen alone", () => {
  const comments = [said("a", { text: "old", place: 1 }), said("b", { text: "new", place: 2 })];
  const offer = withUnsent(served({ comments, place: 2, looked: 1, unread: 1 }), [], ME);
  assert.deepEqual(
    offer.comments.map((one) => whereWords(one, false)),
    ["Sent November 29, 2026. The workshop has seen it.", "Sent November 29, 2026"],
  );
  assert.equal(sendingWords(offer, true), "Sent. The workshop has not looked yet.");
  assert.equal(sendingWords({ ...offer, unread: 0 }, true), "Sent. The workshop has seen it all.");
  assert.match(sendingWords({ ...offer, unread: 0, unsent: 2 }, true), /^2 things are kept here, not sent/);
  assert.match(sendingWords({ ...offer, unsent: 1 }, false), /keeps nothing: leave the page open/);
  assert.equal(sendingWords({ unsent: 0, unread: 0, place: 0 }, true), "");
});

test("what was refused changes nothing but stays to be read", () => {
  const refused = [
    entry({ kind: "favourite", number: 9 }, "no such sound."),
    entry({ kind: "note", number: null, text: "too much" }, "as many notes as there can be."),
  ];
  const offer = withUnsent(served({}), refused, ME);
  assert.deepEqual(offer.favourites, []);
  assert.equal(offer.unsent, 0);
  assert.equal(offer.refused.length, 2);
  assert.equal(whereWords(offer.comments[0], false), "Not sent: as many notes as there can be.");
  assert.equal(saidWords(refused[1].operation), "Your note “too much”");
});

test("a wish taken back goes, unless the workshop has answered it", () => {
  const wish = (/** @type {object[]} */ replies) =>
    said("w", { knobs: { tone: 1 }, taken_back: false, replies });
  const back = () => [entry({ kind: "unwish", about: "w" })];
  assert.deepEqual(withUnsent(served({ wishes: [wish([])] }), back(), ME).wishes, []);
  const answered = [{ id: "r", text: "Yes", when: WHEN }];
  assert.equal(withUnsent(served({ wishes: [wish(answered)] }), back(), ME).wishes[0].taken_back, true);
});

test("sounds that others marked are told apart", () => {
  const offer = withUnsent(served({ marks: [mark(1), mark(2, OTHER), mark(1, OTHER)] }), [], ME);
  assert.deepEqual(offer.elsewhere, [2, 1]);
});
