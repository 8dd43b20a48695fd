/** What a version changed of the one before: a picture, and the same in words. */

import { openDialog } from "../shared/dialog.js";
import { fill, h } from "../shared/dom.js";
import { getDifference } from "./api.js";

/** @import {Difference} from "./api.js" */

/** @param {string} version @param {number} number */
export function showDifference(version, number) {
  openDialog(`What version ${number} changed`, () => {
    const place = h("div", { class: "difference" }, h("p", { role: "status" }, "Drawing both versions…"));
    getDifference(version).then(
      (found) => fill(place, ...differenceView(found, number)),
      (error) => fill(place, h("p", { class: "problem", role: "alert" }, String(error.message ?? error))),
    );
    return place;
  });
}

/** @param {Difference} found @param {number} number */
function differenceView(found, number) {
  const lines = differenceLines(found);
  if (!lines.length)
    return [h("p", {}, "No part and no wire is another. The note and the list say what is.")];
  return [
    h(
      "div",
      { class: "scroller", tabindex: 0, role: "region", "aria-label": "Drawing of the changes" },
      h("img", {
        class: "difference-picture",
        src: `data:image/svg+xml,${encodeURIComponent(found.svg)}`,
        alt: `Drawing of version ${number} and the one before. The list below says the same in words.`,
      }),
    ),
    h("p", { class: "small soft" }, "Thick and + is new, broken and \u2212 is gone, thin is as it was."),
    h("ul", { class: "small" }, ...lines.map((line) => h("li", {}, line))),
  ];
}

/** @param {Difference} found */
export function differenceLines({ added, removed, changed, unsolder, solder }) {
  return [
    ...removed.map((name) => `Take out ${name}.`),
    ...added.map((name) => `New part: ${name}.`),
    ...Object.entries(changed).map(([name, [was, is]]) => `${name}: ${was}; now ${is}.`),
    ...unsolder.map((wire) => `Unsolder ${wire}.`),
    ...solder.map((wire) => `Solder ${wire}.`),
  ];
}
