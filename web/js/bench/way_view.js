/** The choice of how the guitar is heard: direct, or through a chain behind it. */

import { openDialog } from "../shared/dialog.js";
import { fill, h } from "../shared/dom.js";

/** @import {Session} from "../session/session.js" */

/** What a way is, for the choice and its dialog. */
export const WHAT_IT_IS =
  "One chain of tone controls, a valve and a loudspeaker, the same for every sound. It stands for no product.";
const WHAT_IT_LEAVES =
  "It changes only what you hear, and how loud positions are beside each other. Curves, levels and all other figures stay those at the amplifier's input.";
const HOW_LOUD = "In each way the loudest position plays at the usual level.";

/** @param {Session} session */
export function wayView({ get, set, on }) {
  const select = h("select", {
    "aria-label": "Heard",
    title: WHAT_IT_IS,
    onchange: () => set({ way: select.value }),
  });
  const about = h(
    "button",
    { type: "button", class: "quiet small", "aria-label": "About the ways to hear it", onclick: tell },
    "?",
  );
  function tell() {
    openDialog("How it is heard", () =>
      h(
        "div",
        { class: "dialog-body-inner" },
        h("ul", {}, ...get().ways.map(({ name, about: text }) => h("li", {}, h("b", {}, name), ` ${text}`))),
        h("p", {}, WHAT_IT_IS),
        h("p", {}, WHAT_IT_LEAVES),
        h("p", { class: "soft" }, HOW_LOUD),
        h("p", {}, get().caution),
      ),
    );
  }
  function show() {
    const { ways, way } = get();
    const names = ways.length ? ways.map(({ name }) => name) : [way]; // before the chain has come
    if (names.length !== select.options.length)
      fill(select, ...names.map((name) => h("option", { value: name }, name)));
    select.value = way;
    select.disabled = ways.length === 0;
  }
  on(["ways", "way"], show);
  show();
  return h(
    "div",
    { class: "heard-as" },
    h("label", {}, h("span", { class: "label" }, "heard"), select),
    about,
  );
}
