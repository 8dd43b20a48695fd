/** Knobs as strips of travel, 0 to 10, each with a hill that shows how much changes where. */

import { hillPath, usedTravel } from "../shared/plot.js";
import { showKnob } from "../shared/units.js";
import { evennessInWords, plainName } from "../shared/words.js";
import { fill, h, s, say } from "../shared/dom.js";
import { EDGE, RAIL, WIDE, travelStrip } from "../shared/travel_strip.js";
import { sweepControls } from "./sweep_view.js";

/** @import {Session} from "../session/session.js" */

/** @param {Session} session */
export function knobsView(session) {
  const { get, on } = session;
  const knobs = h("div", { class: "knobs" });
  let built = "";
  /** @type {(() => void)[]} */
  let updates = [];
  const build = () => {
    const { check } = get();
    const next = JSON.stringify(check?.knobs.map(({ name }) => name));
    if (!check?.ok || next === built) return;
    built = next;
    updates = [];
    fill(
      knobs,
      ...check.knobs.map(({ name }) => {
        const knob = knobView(session, name);
        updates.push(knob.update);
        return knob.element;
      }),
    );
    knobs.hidden = check.knobs.length === 0;
  };
  const update = () => {
    for (const one of updates) one();
  };
  on(["check"], () => {
    build();
    update();
  });
  on(["slots", "current", "fans", "sweeping", "sweeps", "fanned"], update);
  build();
  update();
  return knobs;
}

/** @param {Session} session @param {string} name */
function knobView(session, name) {
  const { get, set } = session;
  const value = () => session.slot().knobs[name] ?? 10;
  const about = () => get().check?.knobs.find((knob) => knob.name === name)?.about ?? "";
  const turn = (/** @type {number} */ to) => {
    if (get().sweeping === name) set({ sweeping: "" });
    session.setKnob(name, to);
  };

  const hill = s("path", { class: "hill", transform: `translate(${EDGE} 2)` });
  const clicks = () => get().check?.knobs.find((knob) => knob.name === name)?.detent ?? false;
  const strip = travelStrip({ name, value, turn, behind: hill, clicks });
  const output = h("output", {}),
    says = h("small", {}),
    even = h("span", { class: "soft" });
  const fan = h(
    "button",
    { type: "button", class: "quiet", onclick: () => set({ fanned: get().fanned === name ? "" : name }) },
    "Draw the sweep",
  );

  const sweep = sweepControls(session, name);

  function update() {
    const now = value(),
      known = get().fans[name];
    say(output, showKnob(now));
    say(says, about());
    strip.update();
    hill.setAttribute("d", known ? hillPath(known.evenness, WIDE - 2 * EDGE, RAIL - 6) : "");
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
  const element = h(
    "div",
    { class: "knob" },
    h("div", { class: "knob-head" }, h("b", {}, plainName(name)), output, says),
    strip.element,
    h("div", { class: "knob-foot" }, even, fan, sweep.button, sweep.range),
    sweep.settings,
  );
  return { element, update };
}
