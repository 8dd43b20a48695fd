/** What one does once a guitar is soldered: find its fault; before many are: see how they differ. */

import { h } from "../shared/dom.js";
import { toastError } from "../shared/notices.js";

/** @import {Session} from "../session/session.js" */

/** @param {Session} session */
export function finishedView(session) {
  const { get, set } = session;
  return h(
    "section",
    { class: "finished", "aria-label": "Soldered" },
    h("h2", {}, "Soldered"),
    h(
      "div",
      { class: "row" },
      h(
        "button",
        {
          type: "button",
          title: "It does something odd: say what you hear, read the meter, see which joint it is",
          onclick: () => set({ drawer: false, faults: { ...get().faults, open: true } }),
        },
        "What could be wrong?",
      ),
      h(
        "button",
        {
          type: "button",
          title: "Ten instruments by tolerance: how far they differ, and how many keep your limits",
          onclick: () =>
            import("../checking/spread_view.js").then(({ openSpread }) => openSpread(session), toastError),
        },
        "Built ten times",
      ),
    ),
  );
}
