/** What one does once the guitar is soldered: find its fault. */

import { h } from "../shared/dom.js";

/** @import {Session} from "../session/session.js" */

/** @param {Session} session */
export function finishedView(session) {
  const { get, set } = session;
  return h(
    "section",
    { class: "finished", "aria-label": "The soldered guitar" },
    h("h2", {}, "The soldered guitar"),
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
    ),
  );
}
