/** A wish that the workshop makes a sound: the button, how far it is, which sound it became. */

import { h, say } from "../shared/dom.js";
import { makingWords, whyNoSound } from "./words.js";

/** @import {Proposal, Wished} from "../shared/types.js" */

/**
 * Lists as text, alike where only a sound being made has come further.
 * @param {unknown} listed proposals or answers
 */
export const butProgress = (listed) =>
  JSON.stringify(listed, (key, value) =>
    key === "after" ? undefined : key === "making" && value !== null ? 0 : value,
  );

/**
 * Show how far sounds being made are, and leave all else and the focus where it is.
 * @param {Element} place with views of them
 * @param {{key: string, making?: number | null, words?: (making: number) => string}[]} wishes
 */
export function showProgress(place, wishes) {
  const found = new Map(wishes.map((one) => [one.key, one]));
  for (const view of /** @type {NodeListOf<HTMLElement>} */ (place.querySelectorAll(".making"))) {
    const { making, words = makingWords } = found.get(view.dataset.wish ?? "") ?? {},
      [text, bar] = view.children;
    if (typeof making !== "number") continue;
    say(text, words(making));
    /** @type {HTMLProgressElement} */ (bar).value = making;
  }
}

/**
 * @param {Pick<Proposal, "state">} row
 * @param {Wished} wish
 * @param {string} key of the wish, for `showProgress`
 * @param {string} quoted the wish in words
 * @param {() => Promise<unknown>} make asks the server, and shows what it answers
 */
export function variantView(row, wish, key, quoted, make) {
  const { sound = null, making = null, label = "", problem = "" } = wish;
  if (sound !== null) return h("p", { class: "ok small" }, `It is sound ${sound}, “${label}”.`);
  if (making !== null)
    return h(
      "p",
      { class: "small making", "data-wish": key },
      h("span", {}, makingWords(making)),
      h("progress", { max: 1, value: making, "aria-label": `The sound of ${quoted}` }),
    );
  const why = whyNoSound(row);
  if (why) return h("p", { class: "small soft" }, why);
  const refused = h("p", { class: "problem", role: "alert" });
  const button = h(
    "button",
    {
      type: "button",
      class: "small",
      "aria-label": `Make it a sound: ${quoted}`,
      onclick: async () => {
        button.disabled = true;
        say(refused, "");
        try {
          await make();
        } catch (error) {
          say(refused, error instanceof Error ? error.message : String(error));
        } finally {
          button.disabled = false;
        }
      },
    },
    problem ? "Try again" : "Make it a sound",
  );
  return h(
    "div",
    { class: "variant" },
    problem && h("p", { class: "problem" }, `No sound was made: ${problem}`),
    button,
    refused,
  );
}
