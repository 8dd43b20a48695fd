/** Comments on a sound or on the whole offer: those sent, and a field for the next. */

import { day, noteWords } from "./words.js";
import { fill, h, say, uid } from "../shared/dom.js";
import { remember, recall } from "./memory.js";
import { whyNot } from "./refusals.js";

/** @import {Page} from "./page.js" */

const LONGEST = 2000;

/** @param {Page} page @param {number | null} number @param {string} label @param {{open: boolean}} options */
export function notesView(page, number, label, { open }) {
  const { get, on, source } = page,
    { verb } = noteWords(source.isFile),
    list = h("ul", { class: "sent" });
  function show() {
    const mine = get().offer.comments.filter((one) => one.number === number);
    fill(
      list,
      ...mine.map(({ text, when }) =>
        h("li", {}, h("p", { class: "words" }, text), h("small", { class: "soft" }, `${verb} ${day(when)}`)),
      ),
    );
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

/** @param {Page} page @param {number | null} number @param {string} label */
function noteForm({ source, get, setOffer }, number, label) {
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
  const send = h("button", { type: "submit" }, sendWords);
  return h(
    "form",
    {
      class: "note",
      onsubmit: async (/** @type {SubmitEvent} */ event) => {
        event.preventDefault();
        const text = box.value.trim();
        if (!text) {
          say(problem, "Write a note first.");
          box.focus();
          return;
        }
        send.disabled = true;
        say(problem, "");
        try {
          const sent = await source.sendComment(number, text);
          setOffer({
            comments: [
              ...get().offer.comments.filter((one) => one.when !== sent.when || one.text !== sent.text),
              sent,
            ],
          });
          box.value = "";
          remember(name, "");
          say(status, done);
        } catch (error) {
          say(problem, `Not sent: ${whyNot(error, "note")} Your text is still here.`);
        } finally {
          send.disabled = false;
        }
      },
    },
    h("label", { for: id }, label),
    box,
    problem,
    h("div", { class: "row" }, send, status),
  );
}
