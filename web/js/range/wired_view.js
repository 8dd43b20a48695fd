/** The switches of a wiring as they are soldered: what each position joins, what is on each lug. */

import { fill, h } from "../shared/dom.js";
import { counted, plainName } from "../shared/words.js";

/** @import {WiredSwitch} from "./words.js" */

export function wiredView() {
  const element = h("div", { class: "wired-switches", hidden: true });
  let shown = "";
  return {
    element,
    /** @param {WiredSwitch[]} switches */
    show(switches) {
      const next = JSON.stringify(switches);
      if (next === shown) return;
      shown = next;
      element.hidden = switches.length === 0;
      fill(element, ...switches.map(switchView));
    },
  };
}

/**
 * Lugs that a position joins; a line is not broken between them.
 *
 * @param {string[]} group @param {number} k
 */
const joinsOf = (group, k) => [k > 0 && ", ", h("span", { class: "joined-lugs" }, group.join("–"))];

/** @param {WiredSwitch} one */
function switchView({ name, about, poles, lugs, positions, selects }) {
  const labelled = positions.some(({ label }) => label);
  const heads = ["Position", "Joins", ...(selects ? ["Sound", ...(labelled ? ["Label"] : []), "Meter"] : [])];
  return h(
    "details",
    { class: "more", open: selects },
    h(
      "summary",
      {},
      `${plainName(name)} as it is soldered now${about ? `: ${about.charAt(0).toLowerCase()}${about.slice(1)}` : ""}, ${counted(poles, "pole")} in use`,
    ),
    h(
      "div",
      { class: "scroller", tabindex: 0, role: "region", "aria-label": `${plainName(name)}: positions` },
      h(
        "table",
        { class: "left" },
        h("thead", {}, h("tr", {}, ...heads.map((text) => h("th", { scope: "col" }, text)))),
        h(
          "tbody",
          {},
          ...positions.map(({ position, contacts, sound, label, reading }) =>
            h(
              "tr",
              {},
              h("th", { scope: "row" }, position),
              h("td", {}, ...(contacts.length ? contacts.flatMap(joinsOf) : ["nothing"])),
              ...(selects
                ? [sound, ...(labelled ? [label] : []), reading].map((text) => h("td", {}, text))
                : []),
            ),
          ),
        ),
      ),
    ),
    h(
      "ul",
      { class: "small wired-lugs" },
      ...lugs.map((one) => h("li", {}, h("b", {}, one.lug), `: ${one.with.join(", ")}`)),
    ),
  );
}
