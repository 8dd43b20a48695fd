/** A blind test of two kept sounds: is X the one or the other? Score and truth only at the end. */

import { answer, hidden, isOver, LENGTHS, needed, scoreOf, startBlind, verdict } from "../pure/blind.js";
import { LETTERS, slotInWords } from "../pure/compare.js";
import { openDialog } from "./dialog.js";
import { choice, fill, h } from "./dom.js";

/** @import {Session} from "../bench/session.js" */
/** @import {Blind} from "../pure/blind.js" */

/** @param {Session} session @param {() => void} toggle */
export function blindTest(session, toggle) {
  const { get, set } = session;
  const before = { matched: get().matched, current: get().current };
  openDialog("Blind test", () => {
    const body = h("div", { class: "dialog-body-inner" });
    setUp(session, body, toggle);
    return body;
  }, { closed: () => { set({ matched: before.matched }); session.hear(Math.min(before.current, get().slots.length - 1)); document.body.classList.remove("blind"); } });
}

/** @param {Session} session @param {HTMLElement} body @param {() => void} toggle */
function setUp(session, body, toggle) {
  const { get, set } = session;
  const { slots } = get();
  let trials = 12, pair = [0, 1];
  const need = h("p", { class: "soft" });
  const tell = () => { need.textContent = `${needed(trials)} of ${trials} right are needed: guessing reaches that in fewer than 1 of 20 tests. What X is in each trial is drawn before the first one; how you did is told after the last.`; };
  const lengths = choice("Trials", LENGTHS.map((n) => ({ value: String(n), label: String(n) })), String(trials), (value) => { trials = Number(value); tell(); });
  const selects = pair.map((k, j) => {
    const select = h("select", { "aria-label": j ? "Second sound" : "First sound", onchange: () => { pair[j] = Number(select.value); start.disabled = pair[0] === pair[1]; } },
      ...slots.map((slot, n) => h("option", { value: n }, `${LETTERS[n]} ${slotInWords(slot, slots)}`)));
    select.value = String(k);
    return select;
  });
  const start = h("button", { type: "button", class: "main", onclick: () => {
    set({ matched: true, sweeping: "" });
    document.body.classList.add("blind"); // nothing behind the dialog may tell
    run(session, body, startBlind(trials, (count) => crypto.getRandomValues(new Uint8Array(count))), pair);
    if (!get().playing) toggle();
  } }, "Start");
  tell();
  fill(body, h("p", {}, "Two sounds, level matched and in step, and X, which is one of them. Say which, as often as you choose."),
    h("div", { class: "row" }, selects[0], h("span", { class: "soft" }, "against"), selects[1]),
    h("div", { class: "row" }, h("span", {}, "Trials"), lengths.element), need,
    h("p", { class: "soft small" }, "It keeps you from fooling yourself by accident. It is no seal: the answers lie in this page's memory."),
    h("div", { class: "actions" }, start));
}

/** @param {Session} session @param {HTMLElement} body @param {Blind} blind @param {number[]} pair slots */
function run(session, body, blind, pair) {
  if (isOver(blind)) { finish(session, body, blind, pair); return; }
  const trial = blind.answers.length + 1, all = blind.draws.length;
  const buttons = ["A", "B", "X"].map((name) => h("button", { type: "button", "aria-pressed": "false", "aria-keyshortcuts": name, onclick: () => hear(name) }, name));
  /** @param {string} name */
  function hear(name) {
    session.hear(name === "X" ? pair[hidden(blind)] : pair[name === "A" ? 0 : 1]);
    buttons.forEach((button) => button.setAttribute("aria-pressed", String(button.textContent === name)));
  }
  /** @param {0 | 1} said */
  const say = (said) => run(session, body, answer(blind, said), pair);
  const keys = h("div", { class: "trial", role: "group", "aria-label": "Listen to" }, ...buttons);
  body.onkeydown = ({ key, ctrlKey, metaKey }) => { if (!ctrlKey && !metaKey && ["a", "b", "x"].includes(key.toLowerCase())) hear(key.toUpperCase()); };
  fill(body, h("p", { role: "status" }, `Trial ${trial} of ${all}`),
    h("div", { class: "pips", "aria-hidden": "true" }, ...blind.draws.map((_, k) => h("i", { class: k < trial - 1 ? "done" : "" }))),
    keys, h("p", { class: "soft small" }, "Keys A, B and X switch while it plays."),
    h("div", { class: "said" }, ...(/** @type {const} */ ([0, 1])).map((k) => h("button", { type: "button", onclick: () => say(k) }, `X is ${"AB"[k]}`))));
  hear("A");
  buttons[0].focus();
}

/** @param {Session} session @param {HTMLElement} body @param {Blind} blind @param {number[]} pair */
function finish(session, body, blind, pair) {
  const score = scoreOf(blind), { slots } = session.get();
  document.body.classList.remove("blind");
  if (!score) return;
  fill(body, h("p", { role: "status" }, h("b", {}, verdict(score))),
    h("p", { class: "soft" }, `A was ${LETTERS[pair[0]]} (${slotInWords(slots[pair[0]], slots)}), B was ${LETTERS[pair[1]]} (${slotInWords(slots[pair[1]], slots)}).`),
    h("div", { class: "scroller" }, h("table", {}, h("caption", { class: "unseen" }, "Trials"),
      h("thead", {}, h("tr", {}, ...["Trial", "X was", "you said"].map((text) => h("th", { scope: "col" }, text)))),
      h("tbody", {}, ...blind.draws.map((draw, k) => h("tr", {}, h("th", { scope: "row" }, k + 1), h("td", {}, "AB"[draw]), h("td", { class: draw === blind.answers[k] ? "ok" : "bad" }, `${"AB"[blind.answers[k]]} ${draw === blind.answers[k] ? "right" : "wrong"}`)))))),
    h("p", { class: "soft small" }, "One-sided binomial test against guessing. Stopping early, or repeating until it fits, makes these numbers untrue."));
}
