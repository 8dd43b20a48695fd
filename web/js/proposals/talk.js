/** What the customer said to a proposal: notes and wishes, each with a field for the workshop's answer. */

import * as api from "./api.js";
import { newId } from "../shared/ids.js";
import { showDate } from "../shared/units.js";
import { labelOf, saidInWords } from "./words.js";
import { h, say } from "../shared/dom.js";
import { variantView } from "./variants.js";

/** @import {CustomerSaid, Proposal} from "../shared/types.js" */

/**
 * Answers being written, by what they answer: any news draws the list anew, and nothing typed is lost.
 * @type {Map<string, {element: HTMLElement}>}
 */
const forms = new Map();

/** @typedef {ReturnType<typeof createTalk>} Talk */

/** @param {() => unknown} reload the proposals */
export function createTalk(reload) {
  /**
   * Up to where the workshop had seen each proposal when this view was opened.
   * @type {Map<string, number>}
   */
  const before = new Map();
  const seen = new IntersectionObserver((entries) => {
    for (const { isIntersecting, target } of entries) {
      const { proposal = "", place = "0" } = /** @type {HTMLElement} */ (target).dataset;
      if (!isIntersecting || document.hidden) continue;
      seen.unobserve(target);
      api.noteLooked(proposal, Number(place)).catch(() => undefined); // still unread: seen another time
    }
  });
  return {
    stop: () => seen.disconnect(),
    /** @param {Proposal} row */
    view(row) {
      const { id, comments = [], wishes = [], favourites = [], unread = 0, place = 0, looked = 0 } = row;
      if (!before.has(id)) before.set(id, looked);
      const since = before.get(id) ?? 0;
      const all = [...comments, ...wishes].sort((a, b) => (a.place ?? 0) - (b.place ?? 0));
      const end = h("span", { "data-proposal": id, "data-place": place });
      const said = all.map((one) => saidView(row, one, since, reload));
      said.at(-1)?.append(end); // what was seen to its end was seen
      if (unread > 0) seen.observe(end);
      return h(
        "section",
        { class: "talk", "aria-label": `What the customer said to ${row.title}` },
        favourites.length > 0 &&
          h("p", {}, `Favourites: ${favourites.map((number) => labelOf(row, number)).join(", ")}`),
        said.length > 0 && h("ul", {}, ...said),
        place === 0 &&
          h("p", { class: "small soft" }, "The customer has said nothing yet. It shows here at once."),
        said.length === 0 && end,
      );
    },
  };
}

/** @param {Proposal} row @param {CustomerSaid} one @param {number} since @param {() => unknown} reload */
function saidView(row, one, since, reload) {
  const { replies = [], place = 0, taken_back: takenBack = false } = one;
  return h(
    "li",
    {},
    h(
      "p",
      { class: "words" },
      place > since && h("b", { class: "news small" }, "new "),
      h("span", { class: "soft" }, `${labelOf(row, one.number)}: `),
      saidInWords(one),
    ),
    h("small", { class: "soft" }, showDate(one.when)),
    ...replies.map(({ text, when }) =>
      h("p", { class: "words reply" }, h("small", { class: "soft" }, `You, ${showDate(when)}: `), text),
    ),
    !takenBack && one.knobs && one.id !== undefined && variantOf(row, one, one.id, reload),
    !takenBack && one.id !== undefined && replyForm(row.id, one, reload),
  );
}

/** @param {Proposal} row @param {CustomerSaid} wish @param {string} id @param {() => unknown} reload */
const variantOf = (row, wish, id, reload) =>
  variantView(row, wish, id, `“${labelOf(row, wish.number)}: ${saidInWords(wish)}”`, async () => {
    await api.makeSound(row.id, id);
    await reload();
  });

/** @param {string} proposal @param {CustomerSaid} one @param {() => unknown} reload */
function replyForm(proposal, one, reload) {
  const key = `${proposal} ${one.id}`;
  const made = forms.get(key) ?? { element: makeForm(proposal, one, reload) };
  forms.set(key, made);
  return made.element;
}

/** @param {string} proposal @param {CustomerSaid} one @param {() => unknown} reload */
function makeForm(proposal, one, reload) {
  const about = one.id ?? "",
    quoted = `“${saidInWords(one)}”`;
  const text = h("textarea", {
      rows: 2,
      maxlength: 2000,
      "aria-label": `Your answer to ${quoted}`,
    }),
    problem = h("p", { class: "problem", role: "alert" }),
    send = h("button", { class: "small" }, "Send the answer");
  let own = newId(); // the same one until it is there: a lost answer is no second reply
  const form = h(
    "form",
    {
      hidden: true,
      onsubmit: async (/** @type {SubmitEvent} */ event) => {
        event.preventDefault();
        if (!text.value.trim()) {
          say(problem, "Write the answer first.");
          text.focus();
          return;
        }
        send.disabled = true;
        say(problem, "");
        try {
          const written = new Date().toISOString();
          await api.replyToCustomer(proposal, { id: own, written, about, text: text.value.trim() });
          own = newId();
          text.value = "";
          form.hidden = true;
          open.hidden = false;
          await reload();
        } catch (error) {
          const why = error instanceof Error ? error.message : String(error);
          say(problem, `Not sent: ${why} What you wrote is still here.`);
        } finally {
          send.disabled = false;
        }
      },
    },
    text,
    problem,
    h("div", { class: "actions" }, send),
  );
  const open = h(
    "button",
    {
      type: "button",
      class: "small quiet",
      "aria-label": `Answer ${quoted}`,
      onclick: () => {
        form.hidden = false;
        open.hidden = true;
        text.focus();
      },
    },
    "Answer",
  );
  return h("div", { class: "answering" }, open, form);
}
