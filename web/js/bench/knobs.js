/** Knobs as strips of travel, 0 to 10, each with a hill that shows how much changes where. */

import { hillPath } from "../shared/plot.js";
import { showKnob } from "../shared/units.js";
import { plainName } from "../shared/words.js";
import { fill, h, s, say } from "../shared/dom.js";
import { EDGE, RAIL, WIDE, travelStrip } from "../shared/travel_strip.js";

/** @import {Session, State} from "../session/session.js" */

/**
 * Build views of the knobs, anew when the wiring has other knobs, and keep them up to date.
 * @param {Session} session @param {(keyof State)[]} keys  what they show, beside the setting
 * @param {(names: string[]) => () => void} build  returns what brings them up to date
 */
export function followKnobs(session, keys, build) {
  const { get, on } = session;
  let built = "",
    update = () => {};
  const follow = () => {
    const { check } = get(),
      names = check?.knobs.map(({ name }) => name);
    if (check?.ok && names && JSON.stringify(names) !== built) {
      built = JSON.stringify(names);
      update = build(names);
    }
    update();
  };
  on(["check", "slots", "current", ...keys], follow);
  follow();
}

/** @param {Session} session */
export function knobsView(session) {
  const knobs = h("div", { class: "knobs" });
  followKnobs(session, ["fans"], (names) => {
    const built = names.map((name) => knobView(session, name));
    fill(knobs, ...built.map(({ element }) => element));
    knobs.hidden = names.length === 0;
    return () => {
      for (const { update } of built) update();
    };
  });
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
    says = h("small", { class: "knob-about" });

  function update() {
    const known = get().fans[name];
    say(output, showKnob(value()));
    say(says, about());
    strip.update();
    hill.setAttribute("d", known ? hillPath(known.evenness, WIDE - 2 * EDGE, RAIL - 6) : "");
  }
  const element = h(
    "div",
    { class: "knob" },
    h("div", { class: "knob-head" }, h("b", {}, plainName(name)), output),
    strip.element,
    says,
  );
  return { element, update };
}
