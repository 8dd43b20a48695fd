/** The sounds to compare: the current one in copper, the others each with a hue and a dash. */

import { LETTERS, MOST, slotInWords } from "../session/compare.js";
import { namesIn } from "../session/names.js";
import { placeOf } from "../session/session.js";
import { blindTest } from "../blind/test_view.js";
import { fill, h, s } from "../shared/dom.js";
import { icon } from "../shared/icons.js";
import { toast } from "../shared/notices.js";

/** @import {Session} from "../session/session.js" */

/** @param {Session} session @param {() => void} toggle */
export function chipsView(session, toggle) {
  const { get, set, on } = session;
  const chips = h("div", { class: "chips", role: "group", "aria-label": "Sounds to compare" });
  const keep = h(
    "button",
    {
      type: "button",
      class: "small",
      onclick: () => {
        const first = get().slots.length === 1;
        session.keep();
        if (!first) return;
        if (!get().matched) set({ matched: true });
        toast(
          "Kept. Keys A to D switch between sounds. Levels are matched now, so that the louder one does not win.",
        );
      },
    },
    "Keep to compare",
  );
  const blind = h(
    "button",
    { type: "button", class: "small", onclick: () => blindTest(session, toggle) },
    "Blind test",
  );
  const named = (/** @type {string} */ id) => {
    const place = placeOf(get().commission, id);
    return place ? `${place.wiring.name} ${place.version.number}` : "";
  };
  function show() {
    const { slots, current, names } = get();
    const at = [...chips.querySelectorAll("button")].indexOf(
      /** @type {HTMLButtonElement} */ (document.activeElement),
    );
    fill(
      chips,
      ...slots.map((slot, k) => {
        const here = k === current,
          words = slotInWords(slot, slots, named, namesIn(names));
        return h(
          "span",
          { class: here ? "chip heard" : `chip slot-${k}` },
          h(
            "button",
            {
              type: "button",
              class: here ? "heard" : `slot-${k}`,
              "aria-pressed": String(here),
              "aria-keyshortcuts": LETTERS[k],
              onclick: () => session.hear(k),
            },
            s(
              "svg",
              { class: "key", viewBox: "0 0 26 8", "aria-hidden": "true" },
              s("line", { x1: 0, x2: 26, y1: 4, y2: 4, class: `key-line key-${here ? "heard" : k}` }),
            ),
            slots.length > 1 ? `${LETTERS[k]} ${words}` : `now ${words}`,
          ),
          slots.length > 1 &&
            h(
              "button",
              {
                type: "button",
                class: "drop",
                "aria-label": `Drop ${LETTERS[k]}`,
                onclick: () => session.drop(k),
              },
              icon("close"),
            ),
        );
      }),
    );
    if (at >= 0)
      chips.querySelectorAll("button")[Math.min(at, chips.querySelectorAll("button").length - 1)]?.focus();
    keep.hidden = slots.length >= MOST;
  }
  on(["slots", "current", "commission", "names"], show);
  show();
  return h("div", { class: "chips" }, chips, keep, h("span", { class: "spread" }), blind);
}
