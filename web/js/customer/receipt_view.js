/** Bring the workshop's receipt into a page that is a file: it shows what the workshop has. */

import { receiptInWords } from "./words.js";
import { h, say } from "../shared/dom.js";

/** @import {Page} from "./page.js" */

/** Characters; a receipt has a few hundred. */
const LONGEST = 65_536;

/** @param {Page} page */
export function receiptView({ source, set, on }) {
  const { answer } = source;
  if (!answer) return null;
  const text = h("textarea", {
    rows: 3,
    spellcheck: "false",
    autocomplete: "off",
    placeholder: "receipt1.…",
  });
  const has = h("p", { class: "small", role: "status", hidden: true }),
    problem = h("p", { class: "problem", role: "alert" });
  const show = async () => {
    const receipt = await answer.receipt();
    has.hidden = receipt === null;
    if (receipt) say(has, receiptInWords(receipt));
  };
  const take = async (/** @type {string} */ sealed) => {
    say(problem, "");
    try {
      if (!sealed.trim()) throw new Error("Paste the receipt, or choose its file.");
      await answer.bring(sealed);
    } catch (error) {
      say(problem, error instanceof Error ? error.message : String(error));
      text.focus();
      return;
    }
    text.value = "";
    box.open = false;
    set({ offer: await source.getOffer() });
  };
  const picker = h("input", {
    type: "file",
    accept: ".txt,text/plain",
    hidden: true,
    "aria-label": "File of a receipt",
    onchange: async () => {
      const file = picker.files?.[0];
      if (file) await take(file.size > LONGEST ? "too large for a receipt" : await file.text());
      picker.value = "";
    },
  });
  const box = h(
    "details",
    {},
    h("summary", {}, "Bring the receipt"),
    h(
      "form",
      {
        class: "sending",
        onsubmit: (/** @type {SubmitEvent} */ event) => {
          event.preventDefault();
          void take(text.value);
        },
      },
      h("label", { class: "field" }, h("span", {}, "What the workshop sent back, whole"), text),
      problem,
      h(
        "div",
        { class: "ways" },
        h("button", { type: "button", onclick: () => picker.click() }, "Choose a file"),
        picker,
        h("button", { class: "main" }, "Take it in"),
      ),
    ),
  );
  on(["offer"], () => void show());
  void show();
  return h("div", { class: "sending" }, has, box);
}
