/** The sound at the map's cursor: its network, numbers, and what can be done with it. */

import { drawNetwork, networkInWords } from "../drawing/network.js";
import { fill, h, picture } from "../shared/dom.js";
import { fixed } from "../shared/units.js";
import { numbersOf } from "./sound_map.js";

/** @import {Network} from "../drawing/types.js" */
/** @import {Sound} from "./words.js" */

/**
 * @typedef {object} Shown
 * @property {Sound} sound
 * @property {boolean} chosen whether it is in the set
 * @property {boolean} pinned
 * @property {{away: number, place: number} | null} near the nearest sound of the set, and its place in it
 */

/**
 * @param {{hear: (expression: string) => void, keep: (expression: string) => void,
 *   pin: (expression: string) => void, swap: (place: number, expression: string) => void,
 *   leaveOut: (expression: string) => void}} acts
 */
export function soundPanel(acts) {
  const element = h("section", {
    class: "sound-panel",
    "aria-label": "The sound at the cursor",
    hidden: true,
  });
  let before = "";
  /** @param {Shown | null} shown */
  function show(shown) {
    element.hidden = !shown;
    const next = JSON.stringify(shown);
    if (!shown || next === before) return;
    before = next;
    const { sound, chosen, pinned, near } = shown,
      { expression } = sound;
    fill(
      element,
      h("h3", {}, expression),
      networkOf(sound),
      h(
        "p",
        { class: "small" },
        [
          ...sound.words,
          sound.in_phase ? "" : "out of phase",
          near
            ? `${fixed(near.away)} dB from ${chosen ? "its nearest," : ""} position ${near.place + 1}`
            : "",
        ]
          .filter(Boolean)
          .join(" · "),
      ),
      h(
        "dl",
        {},
        ...numbersOf(sound).map(([name, value]) => h("div", {}, h("dt", {}, name), h("dd", {}, value))),
      ),
      h(
        "div",
        { class: "row" },
        h("button", { type: "button", onclick: () => acts.hear(expression) }, "Hear it"),
        h("button", { type: "button", onclick: () => acts.keep(expression) }, "Keep to compare"),
        h(
          "button",
          { type: "button", "aria-pressed": String(pinned), onclick: () => acts.pin(expression) },
          "Pin",
        ),
        !chosen &&
          near &&
          near.place >= 0 &&
          h(
            "button",
            { type: "button", onclick: () => acts.swap(near.place, expression) },
            `Put in place of ${near.place + 1}`,
          ),
        h(
          "button",
          { type: "button", class: "small", onclick: () => acts.leaveOut(expression) },
          "Leave out",
        ),
      ),
    );
  }
  return { element, show };
}

/** The small network of a sound; none for one that is neither series nor parallel. @param {Sound} sound */
function networkOf({ connection }) {
  const [tree] = connection;
  if (connection.length !== 1 || JSON.stringify(tree).includes('"mesh"')) return null;
  const network = /** @type {Network} */ (tree);
  return picture(drawNetwork(network), networkInWords(network), "network-picture");
}
