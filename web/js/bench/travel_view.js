/** How each knob works over its travel: in words, drawn as curves, and played as a sweep. */

import { usedTravel } from "../shared/plot.js";
import { evennessInWords, plainName } from "../shared/words.js";
import { fill, h, say } from "../shared/dom.js";
import { followKnobs } from "./knobs.js";
import { sweepControls } from "./sweep_view.js";

/** @import {Session} from "../session/session.js" */

/** @param {Session} session */
export function travelView(session) {
  const rows = h("div", { class: "knob-travels" });
  followKnobs(session, ["fans", "sweeping", "sweeps", "fanned"], (names) => {
    const built = names.map((name) => rowOf(session, name));
    fill(rows, ...built.map(({ element }) => element));
    rows.hidden = names.length === 0;
    return () => {
      for (const { update } of built) update();
    };
  });
  return rows;
}

/** @param {Session} session @param {string} name */
function rowOf(session, name) {
  const { get, set } = session;
  const even = h("p", { class: "soft small" });
  const fan = h(
    "button",
    { type: "button", class: "small", onclick: () => set({ fanned: get().fanned === name ? "" : name }) },
    "Draw the sweep",
  );
  const sweep = sweepControls(session, name);
  const element = h(
    "div",
    { class: "knob-travel", "data-travel": name },
    h("h3", {}, plainName(name)),
    even,
    h("div", { class: "knob-travel-acts" }, sweep.button, fan, sweep.range),
    sweep.settings,
  );
  function update() {
    const known = get().fans[name];
    say(
      even,
      known
        ? evennessInWords(
            usedTravel(known.evenness),
            known.evenness.reduce((a, b) => a + b, 0),
          )
        : "",
    );
    fan.setAttribute("aria-pressed", String(get().fanned === name));
    sweep.update();
  }
  return { element, update };
}
