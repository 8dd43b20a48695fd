/** Notes and wishes on a sound or on the whole, with the workshop's answers, and a field for the next. */

import { day, knobsInWords, noteWords, whereWords } from "./words.js";
import { fill, h, say, uid } from "../shared/dom.js";
import { remember, recall } from "./memory.js";

/** @import {Page} from "./page.js" */
/** @import {Note, Wish} from "./words.js" */
/** @typedef {import("./news.js").News["outcome"]} Outcome  what became of a wish */

const LONGEST = 2000;

/**
 * @param {Page} page @param {number | null} number @param {string} label
 * @param {{open: boolean, outcome?: Outcome}} options
 */
export function notesView(page, number, label, { open, outcome }) {
  const { get, on, source } = page,
    list = h("ul", { class: "sent" });
  function show() {
    const { comments, wishes } = get().offer;
    const mine = [...comments, ...(source.isFile ? [] : wishes)].filter((one) => one.number === number);
    const inOrder = mine.sort((a, b) => (a.place || Infinity) - (b.place || Infinity));
    fill(list, ...inOrder.map((one) => saidView(page, one, outcome)));
    list.hidden = mine.length === 0;
  }
  on(["offer"], show);
  show();
  const form = noteForm(page, number, label);
  if (open) return h("div", { class: "notes" }, h("h2", {}, "Questions and wishes"), list, form);
  const draft = recall(`note ${number}`) !== "";
  const opener = h(
    "button",
    {
      type: "button",
      class: "quiet write",
      "aria-expanded": String(draft),
      onclick: () => {
        form.hidden = !form.hidden;
        opener.setAttribute("aria-expanded", String(!form.hidden));
        if (!form.hidden) form.querySelector("textarea")?.focus();
      },
    },
    "Write a note",
  );
  form.hidden = !draft;
  return h("div", { class: "notes" }, list, opener, form);
}

/**
 * A note or a wish, where it is, and what the workshop answered.
 * @param {Page} page @param {Note | Wish} one @param {Outcome} [outcome]
 */
function saidView({ source }, one, outcome) {
  const wish = "knobs" in one;
  return h(
    "li",
    { "data-state": one.state },
    h(
      "p",
      { class: "words" },
      wish ? `${one.taken_back ? "Taken back" : "Wish"}: ${knobsInWords(one.knobs)}` : one.text,
    ),
    h("small", { class: "soft where" }, whereWords(one, source.isFile)),
    wish && outcome?.(one),
    wish &&
      !one.taken_back &&
      one.sound === null &&
      h(
        "button",
        {
          type: "button",
          class: "quiet small",
          "aria-label": `Take back the wish for sound ${one.number}`,
          onclick: () => source.say({ kind: "unwish", about: one.id }),
        },
        "Take back",
      ),
    ...one.replies.map(({ text, when }) =>
      h(
        "div",
        { class: "reply" },
        h("small", { class: "soft" }, `The workshop, ${day(when)}`),
        h("p", { class: "words" }, text),
      ),
    ),
  );
}

/** @param {Page} page @param {number | null} number @param {string} label */
function noteForm({ source }, number, label) {
  const name = `note ${number}`,
    id = uid("note"),
    { send: sendWords, done } = noteWords(source.isFile),
    problem = h("p", { class: "problem", role: "alert" });
  const status = h("p", { class: "ok small", role: "status" });
  const box = h("textarea", {
    id,
    rows: 3,
    maxlength: LONGEST,
    value: recall(name),
    oninput: () => {
      remember(name, box.value);
      status.textContent = "";
    },
  });
  return h(
    "form",
    {
      class: "note",
      onsubmit: (/** @type {SubmitEvent} */ event) => {
        event.preventDefault();
        const text = box.value.trim();
        say(problem, text ? "" : "Write a note first.");
        if (!text) {
          box.focus();
          return;
        }
        source.say({ kind: "note", number, text });
        box.value = "";
        remember(name, "");
        say(status, done);
      },
    },
    h("label", { for: id }, label),
    box,
    problem,
    h("div", { class: "row" }, h("button", { type: "submit" }, sendWords), status),
  );
}
