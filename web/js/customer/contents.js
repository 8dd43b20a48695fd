/** What a wiring of the offer is: its sounds, what is bought and soldered for it, its price and its time. */

import { counted } from "../shared/words.js";
import { jointInWords, partInWords, sentence, termsOf } from "./words.js";
import { h } from "../shared/dom.js";

/** @import {Item, OfferedWiring} from "./words.js" */

/**
 * What the workshop asks and promises for a wiring, as rows of a list of facts.
 * @param {OfferedWiring} wiring
 */
export const termsView = (wiring) =>
  termsOf(wiring).flatMap(([name, text]) => [h("dt", {}, name), h("dd", {}, text)]);

/** What a wiring is made of, as rows of a list of facts. @param {OfferedWiring} wiring */
export function partsView({ bought, kept, soldered }) {
  const points = soldered.reduce((sum, one) => sum + one.points, 0);
  return [
    ...(bought.length
      ? [
          h("dt", {}, "Bought"),
          h("dd", {}, h("ul", { class: "parts" }, ...bought.map((one) => h("li", {}, partInWords(one))))),
        ]
      : []),
    ...(kept.length
      ? [h("dt", {}, "There already"), h("dd", {}, kept.flatMap(({ names }) => names).join(", "))]
      : []),
    ...(soldered.length
      ? [
          h("dt", {}, "Soldered"),
          h(
            "dd",
            {},
            h(
              "details",
              {},
              h("summary", {}, `${counted(soldered.length, "joint")}, ${counted(points, "point")} in all`),
              h("ul", { class: "parts" }, ...soldered.map((one) => h("li", {}, jointInWords(one)))),
            ),
          ),
        ]
      : []),
  ];
}

/** The sounds that come with a wiring. @param {Item[]} items */
export const soundsOfWiring = (items) =>
  h(
    "ul",
    { class: "parts" },
    ...items.map(({ number, label, stands }) =>
      h(
        "li",
        {},
        `${number} ${label}`,
        stands.length > 0 && h("span", { class: "soft" }, ` ${sentence([...stands])}`),
      ),
    ),
  );
