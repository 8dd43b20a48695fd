/** The sounds of a new instrument: tick those wished for; each has its words and its small network. */

import { drawNetwork, networkInWords } from "../drawing/network.js";
import { fill, h, picture, uid } from "../shared/dom.js";

/** @import {Made, OfferedSound} from "./words.js" */

/**
 * @param {{toggle: (words: string) => void, usual: () => void}} ways
 */
export function soundsView({ toggle, usual }) {
  const first = h("div", { class: "worded-sounds" }),
    others = h("div", { class: "worded-sounds" });
  const count = h("span", {}),
    more = h("details", { class: "more" }, h("summary", {}, "Other sounds of these pickups"), others),
    back = h("button", { type: "button", class: "quiet", onclick: usual }, "Back to the usual sounds");
  const legend = uid("sounds");
  let built = "";
  /** @type {Map<string, {box: HTMLInputElement, place: HTMLElement}>} */
  let boxes = new Map();

  /** @param {OfferedSound} sound */
  function row({ words, network }) {
    const box = h("input", { type: "checkbox", onchange: () => toggle(words) });
    const place = h("span", { class: "place", "aria-hidden": "true" });
    boxes.set(words, { box, place });
    return h(
      "label",
      { class: "worded-sound" },
      box,
      place,
      h("span", { class: "words" }, words),
      picture(drawNetwork(network), networkInWords(network), "network-picture"),
    );
  }
  return {
    element: h(
      "fieldset",
      { class: "field" },
      h("legend", { id: legend }, "Sounds"),
      h("p", { class: "soft small" }, count),
      first,
      more,
      h("div", { class: "row" }, back),
    ),
    /** @param {Made} made @param {boolean} own  the sounds are not the usual ones */
    show({ sounds, chosen, stands }, own) {
      const next = JSON.stringify([sounds]);
      if (next !== built) {
        built = next;
        const focused = [...boxes].find(([, { box }]) => box === document.activeElement)?.[0];
        boxes = new Map();
        fill(first, ...sounds.filter((one) => one.usual).map(row));
        const rest = sounds.filter((one) => !one.usual);
        fill(others, ...rest.map(row));
        more.hidden = rest.length === 0;
        boxes.get(focused ?? "")?.box.focus();
      }
      for (const [words, { box, place }] of boxes) {
        const k = chosen.indexOf(words);
        box.checked = k >= 0;
        place.textContent = k >= 0 ? (stands[k] ?? "+") : "";
      }
      if (sounds.some((one) => !one.usual && chosen.includes(one.words))) more.open = true;
      back.hidden = !own;
      count.textContent = `${chosen.length} of ${stands.length} ${stands.length === 1 ? "position" : "positions"}. The number is the position, from the neck to the bridge.`;
    },
  };
}
