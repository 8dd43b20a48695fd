/** A wish that the workshop makes a sound: the button, how far it is, which sound it became. */

import { h } from "../shared/dom.js";
import { whyNoSound } from "./words.js";
import { toastError } from "../shared/notices.js";

/** @import {Proposal, Wished} from "../shared/types.js" */

/**
 * @param {Pick<Proposal, "state">} row
 * @param {Wished} wish
 * @param {string} quoted the wish in words
 * @param {() => Promise<unknown>} make asks the server, and shows what it answers
 */
export function variantView(row, wish, quoted, make) {
  const { sound = null, making = null, label = "", problem = "" } = wish;
  if (sound !== null) return h("p", { class: "ok small" }, `It is sound ${sound}, “${label}”.`);
  if (making !== null)
    return h(
      "p",
      { class: "small making" },
      `Making the sound: ${Math.round(100 * making)} % `,
      h("progress", { max: 1, value: making, "aria-label": `The sound of ${quoted}` }),
    );
  const why = whyNoSound(row);
  if (why) return h("p", { class: "small soft" }, why);
  const button = h(
    "button",
    {
      type: "button",
      class: "small",
      "aria-label": `Make it a sound: ${quoted}`,
      onclick: async () => {
        button.disabled = true;
        try {
          await make();
        } catch (error) {
          toastError(error);
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
  );
}
